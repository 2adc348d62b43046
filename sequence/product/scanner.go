package product

import (
	"math"

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

// scanner reads what will read the keypad in the field and holds the limits
// to it: what passes here must work there.
func (b *builder) scanner(o object) {
	l, ok := b.section(o, "scanner", "supply", "pull-up", "low", "high", "drive", "idle columns")
	if !ok {
		return
	}
	f, _ := o.get("scanner")
	l.at = f.name.place
	s := &Scanner{Drive: usualDrive}
	supply, pullUp := b.supply(l, s), b.pullUp(l, s)
	exact(b.source, l, "drive", quantity.ParseOhm, &s.Drive)
	s.IdleDriven = b.choice(l, "idle columns", "float", "driven") == "driven"
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
