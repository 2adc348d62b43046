package judge

import "padjig/fixture"

// Thresholds are the two levels a contact is watched against, as fractions of
// the reference voltage: 0.3 and 0.7 as CMOS inputs have them (common practice,
// no source), moved up where a diode's drop or a high permitted resistance
// would keep a good contact from reaching the lower one.
func (s *Setting) Thresholds(k int) (lower, upper float64) {
	limits := s.Product.Keys[k].Limits
	ref := float64(s.Jig.Ranges[s.Mid].Ohm)
	worst := 1.5 * float64(limits.ClosedMax)
	lower = worst / (worst + ref)
	if hasDiode(s.Product.Keys[k]) {
		lower += 1.1 * float64(limits.ForwardMax/s.Jig.Vref)
	}
	lower = min(max(lower, 0.3), 0.75)
	return lower, max(0.7, (1+lower)/2)
}

// ShowsOpen reports whether a key whose lines have this resistance with nothing pressed
// reaches the level at which it is watched to open: beside a leak of no more than about
// twice the reference resistor it does not, however it opens.
func (s *Setting) ShowsOpen(k int, open fixture.Resistance) bool {
	_, upper := s.Thresholds(k)
	return open.AtLeast || float64(open.Value/(open.Value+s.Jig.Ranges[s.Mid].Ohm)) > upper
}
