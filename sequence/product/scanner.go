package product

import (
	"math"

	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
)

// scanner reads what will read the keypad in the field and holds the limits
// to it: what passes here must work there.
func (b *builder) scanner(o object) {
	f, ok := o.get("scanner")
	if !ok {
		return
	}
	l, _ := b.section(o, "scanner", "supply", "pull-up", "low", "high", "drive", "idle columns")
	l.at = f.name.place
	s := &Scanner{Drive: 50}
	if b.missing(l, "supply", "supply: 3.3 V") || b.missing(l, "pull-up", "pull-up: 47 kohm") {
		return
	}
	supplyAt, ok := exact(b.source, l, "supply", quantity.ParseVolt, &s.Supply)
	if ok && (s.Supply < 0.8 || s.Supply > touchable) {
		b.wrong(supplyAt, `supply: %v is not plausible for logic; write a value such as "3.3 V"`, s.Supply)
		ok = false
	}
	pullAt, okPull := exact(b.source, l, "pull-up", quantity.ParseOhm, &s.PullUp)
	if okPull && (s.PullUp < 100 || s.PullUp > 10e6) {
		b.wrong(pullAt, `pull-up: %v is not plausible; write a value such as "47 kohm"`, s.PullUp)
		okPull = false
	}
	// CMOS inputs are commonly specified at 0.3 and 0.7 of the supply.
	s.Low, s.High = 0.3*s.Supply, 0.7*s.Supply
	exact(b.source, l, "drive", quantity.ParseOhm, &s.Drive)
	s.IdleDriven = b.choice(l, "idle columns", "float", "driven") == "driven"
	if b.thresholds(l, s) && ok && okPull {
		b.p.Scanner = s
		b.readable(l)
	}
}

func (b *builder) thresholds(l object, s *Scanner) bool {
	low, okLow := bounds(b.source, l, "low", quantity.ParseVolt, nil, &s.Low)
	high, okHigh := bounds(b.source, l, "high", quantity.ParseVolt, &s.High, nil)
	at := low
	if high.after(at) {
		at = high
	}
	switch {
	case low.known() && !okLow || high.known() && !okHigh || s.Supply == 0:
		return false
	case s.Low >= s.High:
		b.wrong(at, "scanner: low (%v) must be below high (%v); exchange or correct them", s.Low, s.High)
		return false
	case s.High >= s.Supply || s.Low <= 0:
		b.wrong(at, "scanner: thresholds %v and %v must lie between 0 V and the supply of %v; correct them", s.Low, s.High,
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
			b.wrong(l.at, "scanner reads key %q as pressed up to %v only, but its closed limit is %v; lower the limit or "+
				"correct the scanner", k.Label, max(most, 0), k.Limits.ClosedMax)
			return
		}
		if least := s.MinRest(); k.Limits.RestMin < least {
			b.wrong(l.at, "scanner reads key %q as released from %v only, but its rest limit is %v; raise the limit or "+
				"correct the scanner", k.Label, least, k.Limits.RestMin)
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
		drop = diode.N*float64(circuit.ThermalVoltage)*math.Log1p(current/float64(diode.Is)) + current*float64(diode.Rs)
	}
	return quantity.Ohm((float64(s.Low)-drop)/current) - s.Drive
}

// MinRest gives the smallest rest resistance that s still reads as released
// with the column driven to ground: R = PullUp High / (Supply - High).
func (s *Scanner) MinRest() quantity.Ohm {
	return quantity.Ohm(float64(s.PullUp) * float64(s.High) / float64(s.Supply-s.High))
}
