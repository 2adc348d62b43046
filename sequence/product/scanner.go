package product

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
	"padjig/sequence/fields"
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

// readScanner reads what will read the keypad in the field and holds the limits
// to it: what passes here must work there.
func readScanner(o fields.Object, keys []Key, diode circuit.Diode) *Scanner {
	l, ok := o.Section("scanner", "supply", "pull-up", "low", "high", "drive", "idle columns",
		"pull-up tolerance", "supply tolerance", "line capacitance", "settle", "period", "debounce",
		"shortest press", "port current")
	if !ok {
		return nil
	}
	f, _ := o.Get("scanner")
	l.At = f.Name.Place
	s := new(usualScanner)
	supply := needed(l, "supply", "3.3 V", "supply.odd", quantity.ParseVolt, leastSupply, touchable, &s.Supply)
	pullUp := needed(l, "pull-up", "47 kohm", "pullup.odd", quantity.ParseOhm, leastPull, mostPull, &s.PullUp)
	fields.Exact(l, "drive", quantity.ParseOhm, &s.Drive)
	s.IdleDriven = l.Choice("idle columns", "float", "driven") == "driven"
	tolerances(l, s)
	pace(l, s)
	if !supply || !thresholds(l, s) || !pullUp {
		return nil
	}
	if l.Sound() {
		readable(l, s, keys, diode)
	}
	return s
}

// needed reads a field that cannot be left out and whose value must be plausible.
func needed[Q fields.Number](l fields.Object, name, example string, odd fields.Code, parse func(string) (Q, error),
	least, most Q, q *Q) bool {
	if l.Missing(name, name+": "+example) {
		return false
	}
	at, ok := fields.Exact(l, name, parse, q)
	if ok && (*q < least || *q > most) {
		l.Wrong(at, odd, *q)
		return false
	}
	return ok
}

func thresholds(l fields.Object, s *Scanner) bool {
	s.Low, s.High = usualLow*s.Supply, usualHigh*s.Supply
	at, okLow := fields.Bounds(l, "low", quantity.ParseVolt, nil, &s.Low)
	high, okHigh := fields.Bounds(l, "high", quantity.ParseVolt, &s.High, nil)
	if high.After(at) {
		at = high
	}
	switch {
	case l.Has("low") && !okLow || l.Has("high") && !okHigh:
		return false
	case s.Low >= s.High:
		l.Wrong(at, "thresholds.crossed", s.Low, s.High)
		return false
	case s.High >= s.Supply || s.Low <= 0:
		l.Wrong(at, "thresholds.outside", s.Low, s.High, s.Supply)
		return false
	}
	return true
}

// tolerances reads how far the parts of the scanner may be off, and what its ports bear.
func tolerances(l fields.Object, s *Scanner) {
	fields.Plausible(l, "pull-up tolerance", parsePercent, percent, 0, 0.9, &s.PullUpTolerance)
	fields.Plausible(l, "supply tolerance", parsePercent, percent, 0, 0.25, &s.SupplyTolerance)
	fields.Plausible(l, "port current", quantity.ParseAmpere, quantity.Ampere.String, 100e-6, 1, &s.PortCurrent)
}

// pace reads how fast the scanner goes and what slows its lines down.
func pace(l fields.Object, s *Scanner) {
	timed := func(name string, least, most time.Duration, t *time.Duration) {
		fields.Plausible(l, name, quantity.ParseDuration, quantity.FormatDuration, least, most, t)
	}
	fields.Plausible(l, "line capacitance", quantity.ParseFarad, quantity.Farad.String, 1e-12, 100e-9, &s.Capacitance)
	timed("settle", 100*time.Nanosecond, 10*time.Millisecond, &s.Settle)
	timed("period", 100*time.Microsecond, time.Second, &s.Period)
	timed("debounce", 100*time.Microsecond, time.Second, &s.Debounce)
	timed("shortest press", time.Millisecond, 10*time.Second, &s.ShortestPress)
}

func parsePercent(text string) (float64, error) {
	v, ok := numberOf(text, "%")
	if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf(sentences["percent"], text)
	}
	return v / 100, nil
}

func percent(part float64) string { return strconv.FormatFloat(part*100, 'g', 4, 64) + " %" }

// readable holds the limits of every key to what the scanner can tell apart.
func readable(l fields.Object, s *Scanner, keys []Key, diode circuit.Diode) {
	for _, k := range keys {
		if most := s.MaxClosed(k, diode); k.Limits.ClosedMax > most {
			l.Wrong(l.At, "scanner.pressed", k.Label, max(most, 0), k.Limits.ClosedMax)
			return
		}
		if least := s.MinRest(); k.Limits.RestMin < least {
			l.Wrong(l.At, "scanner.released", k.Label, least, k.Limits.RestMin)
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

// LeastCurrent is what the scanner sends at least through a contact of this resistance.
func (s *Scanner) LeastCurrent(r quantity.Ohm) quantity.Ampere {
	return quantity.Ampere(float64(s.Supply) * (1 - s.SupplyTolerance) /
		(float64(s.PullUp)*(1+s.PullUpTolerance) + float64(r+s.Drive)))
}
