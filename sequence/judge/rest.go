package judge

import (
	"math"
	"slices"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/nets"
	"padjig/sequence/prove"
)

// RestAgain is the step at rest after the keys were pressed.
const RestAgain = "rest again"

// Rest judges what is read with nothing pressed.
type Rest struct {
	set     *Setting
	sheet   *Sheet
	Known   *nets.Nets   // lines found connected
	bridges []Connection // what was found
}

// NewRest knows of no connection yet.
func NewRest(set *Setting, sheet *Sheet) *Rest {
	return &Rest{set: set, sheet: sheet, Known: nets.New(len(set.Product.Lines))}
}

// Hidden reports whether the lines of key k are connected with nothing pressed.
func (r *Rest) Hidden(k int) bool {
	key := r.set.Product.Keys[k]
	return r.Known.Same(key.A, key.B)
}

// Read writes down what was read between lines at a step with nothing pressed.
func (r *Rest) Read(step string, between []Split, readings []fixture.Resistance) {
	for i, s := range between {
		r.sheet.read(step, s, readings[i])
	}
}

// Close gives the first of the readings of groups at a step that does not hold every limit.
func (r *Rest) Close(step string, groups []fixture.Resistance) (seen fixture.Resistance, close bool) {
	limit, guard := r.set.StrictestAtRest()
	i := slices.IndexFunc(groups, func(g fixture.Resistance) bool { return Apart(g, limit, guard) != decide.Accepted })
	if i < 0 {
		if len(groups) > 0 {
			r.apart(step)
		}
		return seen, false
	}
	return groups[i], true
}

// apart notes that no two lines are connected at a step.
func (r *Rest) apart(step string) {
	when := prove.Before
	if step == RestAgain {
		when = prove.After
	}
	r.sheet.Shown.Note(prove.Insulation, when)
}

// Found takes the connections that were located at a step.
func (r *Rest) Found(step string, found []Connection) {
	for _, c := range found {
		if !r.set.IsOpen(c.Ohm) {
			r.Known.Join(c.A, c.B)
		}
		if r.sheet.Knows(c) {
			continue // the first reading at rest told already
		}
		r.bridges = append(r.bridges, c)
		r.sheet.pair(c, "")
		r.name(step, c)
	}
}

// name says what a pair is that is connected with nothing pressed: a leak, a key
// that is closed, or a short.
func (r *Rest) name(step string, c Connection) {
	again := step == RestAgain
	limit, _ := r.set.AtRest(c.A, c.B)
	what, how := "leak", c.manner()
	if again {
		how = append(how, sequence.Fact(sequence.OnlyAfter))
	}
	if !r.set.IsOpen(c.Ohm) {
		what = "lines shorted"
	}
	f := r.sheet.finding(what, r.sheet.atLines(sequence.AtLines, c.A, c.B), ohms(c.Ohm, limit), c.A, c.B)
	if k := r.set.likeKey(c); k >= 0 {
		f.What, f.Key, f.At, how = "key closed at rest", r.set.Product.Keys[k].Label, r.sheet.atKey(sequence.AtKey, k), nil
		if again {
			f.What = "key stays closed"
		}
		r.sheet.Keys[k].Verdict = sequence.KeyFail
	}
	r.sheet.add(f, how...)
}

// likeKey is the key that a connection at rest is like when it is pressed, -1 for none:
// between its lines, of a closed contact's resistance, and one way only where it has a
// diode. A row-column short of that resistance reads the same; looking at the key decides.
func (s *Setting) likeKey(c Connection) int {
	for k, key := range s.Product.Keys {
		if !Joins(key, c.A, c.B) || s.IsOpen(c.Ohm) {
			continue
		}
		like := c.Ohm.Value >= s.Product.Nominal.Contact/closedLike && c.Ohm.Value <= closedLike*key.Limits.ClosedMax
		if hasDiode(key) {
			forward, backward := c.Forward, c.Backward
			if from, _ := s.EndLines(k); from != c.A {
				forward, backward = backward, forward
			}
			like = !s.IsOpen(forward) && s.IsOpen(backward)
		}
		if like {
			return k
		}
	}
	return -1
}

// closedLike is how many times a closed contact's limit, or less than how
// small a part of its nominal value, still looks like the contact.
const closedLike = 3

// Leak says that lines were too close at rest, where it is not known which.
func (r *Rest) Leak(step string, seen fixture.Resistance, why sequence.Code) {
	limit, _ := r.set.StrictestAtRest()
	r.sheet.add(r.sheet.finding("leak", sequence.Fact(sequence.AtStep, step), ohms(seen, limit)), sequence.Fact(why))
}

// Gone looks at the groups once more where no pair of them is at fault. Leakages that
// are good each by itself add up in a group and do so again; what is not there any more
// has been there, and a unit does not mend itself.
func (r *Rest) Gone(step string, seen fixture.Resistance, groups []fixture.Resistance) {
	if !slices.ContainsFunc(groups, func(now fixture.Resistance) bool { return !Vanished(seen, now) }) {
		r.Leak(step, seen, sequence.Gone)
		return
	}
	r.apart(step) // pair by pair, each of them was read and holds
}

// leaks reports whether the leaks found at rest are, side by side, as close as a reading of
// groups, within four standard uncertainties: then it is no contact that went.
func (r *Rest) leaks(seen fixture.Resistance) bool {
	siemens := 0.0
	for _, c := range r.bridges {
		if r.set.IsOpen(c.Ohm) && !c.Ohm.AtLeast {
			siemens += 1 / float64(c.Ohm.Value)
		}
	}
	return !seen.AtLeast && siemens*float64(seen.Value+4*seen.U) >= 1
}

// Blamed reports whether something was found wrong with the unit.
func (r *Rest) Blamed() bool { return len(r.sheet.Findings) > 0 }

// besides are the connections found at rest that are not key k's own.
func (r *Rest) besides(k int) []Connection {
	key := r.set.Product.Keys[k]
	return slices.DeleteFunc(slices.Clone(r.bridges), func(c Connection) bool { return Joins(key, c.A, c.B) })
}

// widen adds to the uncertainty of a closed reading what connections found
// beside the key may shift it by: somewhere between nothing and all of it,
// every value as likely (rectangular, GUM 4.3.7).
func (r *Rest) widen(k int, closed *fixture.Resistance, beside []Connection) error {
	if len(beside) == 0 || closed == nil || closed.AtLeast || r.set.Actuation == sequence.Electrical {
		return nil
	}
	shift, err := r.set.shift(k, r.Known, beside)
	if err != nil {
		return err
	}
	closed.U = quantity.Ohm(math.Hypot(float64(closed.U), math.Abs(float64(shift))/math.Sqrt(3)))
	return nil
}
