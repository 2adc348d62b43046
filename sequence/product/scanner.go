package product

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
)

// What a scanner plausibly is: the lowest logic supply in use is about 0.8 V, and
// a pull-up outside these ends is a slip of the unit.
const (
	leastSupply         = quantity.Volt(0.8)
	leastPull, mostPull = quantity.Ohm(100), quantity.Ohm(10e6)
	usualLow, usualHigh = 0.3, 0.7 // of the supply: thresholds of CMOS inputs, common practice
	usualDrive          = quantity.Ohm(50)
)

// usualScanner is what a scanner is taken for as far as its file does not say: the
// pull-up is one built into a port, the rest is common practice. None of it has a
// published source.
var usualScanner = Scanner{
	Drive: usualDrive, PullUpTolerance: 0.35, SupplyTolerance: 0.05, Capacitance: 100e-12,
	Settle: 30 * time.Microsecond, Period: 10 * time.Millisecond, ShortestPress: 50 * time.Millisecond,
	PortCurrent: 4e-3,
}

// scanner reads what will read the keypad in the field and holds the limits
// to it: what passes here must work there.
func (b *builder) scanner(o object) {
	l, ok := b.section(o, "scanner", "supply", "pull-up", "low", "high", "drive", "idle columns",
		"pull-up tolerance", "supply tolerance", "line capacitance", "settle", "period", "debounce",
		"shortest press", "port current")
	if !ok {
		return
	}
	f, _ := o.get("scanner")
	l.at = f.name.place
	s := new(usualScanner)
	supply, pullUp := b.supply(l, s), b.pullUp(l, s)
	exact(b.source, l, "drive", quantity.ParseOhm, &s.Drive)
	s.IdleDriven = b.choice(l, "idle columns", "float", "driven") == "driven"
	b.spread(l, s)
	b.pace(l, s)
	if supply && b.thresholds(l, s) && pullUp {
		b.p.Scanner = s
		b.readable(l)
	}
}

func (b *builder) supply(l object, s *Scanner) bool {
	if b.missing(l, "supply", "supply: 3.3 V") {
		return false
	}
	at, ok := exact(b.source, l, "supply", quantity.ParseVolt, &s.Supply)
	if ok && (s.Supply < leastSupply || s.Supply > touchable) {
		b.wrong(at, `supply: %v is not plausible for logic; write it like "3.3 V"`, s.Supply)
		return false
	}
	return ok
}

func (b *builder) pullUp(l object, s *Scanner) bool {
	if b.missing(l, "pull-up", "pull-up: 47 kohm") {
		return false
	}
	at, ok := exact(b.source, l, "pull-up", quantity.ParseOhm, &s.PullUp)
	if ok && (s.PullUp < leastPull || s.PullUp > mostPull) {
		b.wrong(at, `pull-up: %v is not plausible; write it like "47 kohm"`, s.PullUp)
		return false
	}
	return ok
}

func (b *builder) thresholds(l object, s *Scanner) bool {
	s.Low, s.High = usualLow*s.Supply, usualHigh*s.Supply
	low, okLow := bounds(b.source, l, "low", quantity.ParseVolt, nil, &s.Low)
	high, okHigh := bounds(b.source, l, "high", quantity.ParseVolt, &s.High, nil)
	_, hasLow := l.get("low")
	_, hasHigh := l.get("high")
	at := low
	if high.after(at) {
		at = high
	}
	switch {
	case hasLow && !okLow || hasHigh && !okHigh:
		return false
	case s.Low >= s.High:
		b.wrong(at, "scanner: low (%v) must be below high (%v); exchange or correct them", s.Low, s.High)
		return false
	case s.High >= s.Supply || s.Low <= 0:
		b.wrong(at, "scanner: thresholds %v and %v must lie between 0 V and the supply of %v", s.Low, s.High,
			s.Supply)
		return false
	}
	return true
}

// spread reads how far the parts of the scanner may be off, and what its ports bear.
func (b *builder) spread(l object, s *Scanner) {
	plausible(b, l, "pull-up tolerance", parsePercent, percent, 0, 0.9, &s.PullUpTolerance)
	plausible(b, l, "supply tolerance", parsePercent, percent, 0, 0.25, &s.SupplyTolerance)
	plausible(b, l, "port current", quantity.ParseAmpere, quantity.Ampere.String, 100e-6, 1, &s.PortCurrent)
}

// pace reads how fast the scanner goes and what slows its lines down.
func (b *builder) pace(l object, s *Scanner) {
	timed := func(name string, least, most time.Duration, t *time.Duration) {
		plausible(b, l, name, quantity.ParseDuration, quantity.FormatDuration, least, most, t)
	}
	plausible(b, l, "line capacitance", quantity.ParseFarad, quantity.Farad.String, 1e-12, 100e-9,
		&s.Capacitance)
	timed("settle", 100*time.Nanosecond, 10*time.Millisecond, &s.Settle)
	timed("period", 100*time.Microsecond, time.Second, &s.Period)
	timed("debounce", 100*time.Microsecond, time.Second, &s.Debounce)
	timed("shortest press", time.Millisecond, 10*time.Second, &s.ShortestPress)
}

// plausible reads a field whose value must lie between least and most; one beyond is
// taken for a slip of the unit.
func plausible[Q value](b *builder, l object, name string, parse func(string) (Q, error),
	format func(Q) string, least, most Q, q *Q) {
	at, ok := exact(b.source, l, name, parse, q)
	if ok && (*q < least || *q > most) {
		b.wrong(at, "%s: %s is not plausible (%s to %s); correct its unit", name, format(*q), format(least),
			format(most))
	}
}

func parsePercent(text string) (float64, error) {
	number, ok := cutUnit(text, "%")
	v, err := strconv.ParseFloat(number, 64)
	if !ok || err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf(`%q is no percentage; write it like "5 %%"`, text)
	}
	return v / 100, nil
}

func percent(part float64) string { return strconv.FormatFloat(part*100, 'g', 4, 64) + " %" }

// readable holds the limits of every key to what the scanner can tell apart.
func (b *builder) readable(l object) {
	if !b.sound() {
		return
	}
	s := b.p.Scanner
	for _, k := range b.p.Keys {
		most := s.MaxClosed(k, b.p.Nominal.Diode)
		if k.Limits.ClosedMax > most {
			b.wrong(l.at, "scanner reads key %q as pressed up to %v only, but its closed limit is %v; "+
				"lower the limit or correct the scanner", k.Label, max(most, 0), k.Limits.ClosedMax)
			return
		}
		if least := s.MinRest(); k.Limits.RestMin < least {
			b.wrong(l.at, "scanner reads key %q as released from %v only, but its rest limit is %v; "+
				"raise the limit or correct the scanner", k.Label, least, k.Limits.RestMin)
			return
		}
	}
}

// MaxClosed gives the largest closed resistance that s still reads as pressed,
// from the divider of pull-up and key: Low = Vd + (R + Drive) (Supply - Low) /
// PullUp, where Vd is the drop of the key's diode, 0 without one. It is
// negative when the drop alone is too much.
func (s *Scanner) MaxClosed(k Key, diode circuit.Diode) quantity.Ohm {
	current := float64(s.Supply-s.Low) / float64(s.PullUp)
	drop := 0.0
	if k.Diode != NoDiode {
		drop = diode.N*float64(circuit.ThermalVoltage)*math.Log1p(current/float64(diode.Is)) +
			current*float64(diode.Rs)
	}
	return quantity.Ohm((float64(s.Low)-drop)/current) - s.Drive
}

// MinRest gives the smallest rest resistance that s still reads as released
// with the column driven to ground: R = PullUp High / (Supply - High).
func (s *Scanner) MinRest() quantity.Ohm {
	return quantity.Ohm(float64(s.PullUp) * float64(s.High) / float64(s.Supply-s.High))
}
