package margin

import (
	"fmt"
	"math"
	"time"

	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

// Warning is something that a product's file should not be left with.
type Warning struct {
	// Loose says that a unit can keep to the product's limits and still not work on its
	// scanner. Other warnings are about the scanner itself.
	Loose bool
	Keys  []int  // that it is about; none when it is about the whole scanner
	Says  string // what is wrong and what to do
}

// scansNeeded is how many scans a press must last: one that sees it and one that confirms.
// Keypad controllers state two (ADP5588 data sheet, revision C).
const scansNeeded = 2

// warnings lists what is wrong, the limits first.
func (b *board) warnings(r *Report) []Warning {
	var all []Warning
	for _, check := range []func(*Report) []Warning{b.unread, b.closed, b.rest, b.bounce, b.short, b.settling,
		b.ports} {
		all = append(all, check(r)...)
	}
	return all
}

// loose gathers keys into one warning for each thing said.
type loose struct {
	order []string
	keys  map[string][]int
}

func (l *loose) add(k int, says string) {
	if l.keys == nil {
		l.keys = map[string][]int{}
	}
	if _, known := l.keys[says]; !known {
		l.order = append(l.order, says)
	}
	l.keys[says] = append(l.keys[says], k)
}

func (l *loose) warnings() (all []Warning) {
	for _, says := range l.order {
		all = append(all, Warning{Loose: true, Keys: l.keys[says], Says: says})
	}
	return all
}

func (b *board) unread(r *Report) []Warning {
	var l loose
	for k, key := range r.Keys {
		if key.Unread != "" {
			l.add(k, "never read: "+key.Unread+"; correct the key or the scanner")
		}
	}
	return l.warnings()
}

// closed holds each closed limit against the least that any key with the same limits may have.
func (b *board) closed(r *Report) []Warning {
	var l loose
	allowed := b.tightest(r, func(k Key) quantity.Ohm { return -k.Pressed.Allowed })
	for k, key := range r.Keys {
		if key.Unread != "" || key.Pressed.Margin >= 0 {
			continue
		}
		most := rounded(-allowed[b.Keys[k].Limits], math.Floor)
		if most <= 0 {
			l.add(k, fmt.Sprintf("a diode of %v, which the limit permits, leaves nothing of the low threshold; "+
				"lower the diode limit or choose a scanner with a higher threshold", b.Keys[k].Limits.ForwardMax))
			continue
		}
		l.add(k, fmt.Sprintf("contact resistance limit of %v is looser than the scanner allows; write closed at most %v",
			key.Pressed.Limit, most))
	}
	return l.warnings()
}

func (b *board) rest(r *Report) []Warning {
	var l loose
	allowed := b.tightest(r, func(k Key) quantity.Ohm { return k.Released.Allowed })
	for k, key := range r.Keys {
		if key.Unread != "" || key.Released.Margin >= 0 {
			continue
		}
		least := allowed[b.Keys[k].Limits]
		if least.IsOpen() {
			l.add(k, "reads released at no insulation resistance: the supply at its lower end, or what else leaks "+
				"to ground, does not let the row rise to the high threshold; correct the scanner")
			continue
		}
		l.add(k, fmt.Sprintf("insulation resistance limit of %v is looser than the scanner allows; write rest at least %v",
			key.Released.Limit, rounded(least, math.Ceil)))
	}
	return l.warnings()
}

// tightest is the largest of a figure among the keys that are read, for each set of limits.
func (b *board) tightest(r *Report, of func(Key) quantity.Ohm) map[product.Limits]quantity.Ohm {
	all := map[product.Limits]quantity.Ohm{}
	for k, key := range r.Keys {
		if key.Unread != "" {
			continue
		}
		limits := b.Keys[k].Limits
		if v, known := all[limits]; !known || of(key) > v {
			all[limits] = of(key)
		}
	}
	return all
}

// rounded gives r with three digits, to the side that is safe.
func rounded(r quantity.Ohm, to func(float64) float64) quantity.Ohm {
	if r <= 0 || r.IsOpen() {
		return r
	}
	unit := math.Pow(10, math.Floor(math.Log10(float64(r)))-2)
	return quantity.Ohm(to(float64(r)/unit) * unit)
}

// bounce holds the bounce limits against what the scanner states to see through.
func (b *board) bounce(r *Report) []Warning {
	var l loose
	window := b.scanner.Debounce
	for k := range r.Keys {
		limits := b.Keys[k].Limits
		if longest := max(limits.Make, limits.Break); window > 0 && longest > window {
			l.add(k, fmt.Sprintf("bounce limit of %s is longer than the %s that the scanner sees through; write "+
				"make and break at most %s", quantity.FormatDuration(longest), quantity.FormatDuration(window),
				quantity.FormatDuration(window)))
		}
	}
	return l.warnings()
}

// short holds the bounce limits against a short press: what is left must last for two scans.
func (b *board) short(r *Report) []Warning {
	var l loose
	s := b.scanner
	most := s.ShortestPress - scansNeeded*s.Period
	for k, key := range r.Keys {
		switch {
		case key.Unread != "" || key.Scans >= scansNeeded:
		case most < 100*time.Microsecond:
			l.add(k, fmt.Sprintf("a press of %s can pass between scans %s apart; shorten the period",
				quantity.FormatDuration(s.ShortestPress), quantity.FormatDuration(s.Period)))
		default:
			l.add(k, fmt.Sprintf("bounce of %s on closing leaves a press of %s fewer than %d scans, %s apart; "+
				"write make at most %s", quantity.FormatDuration(b.Keys[k].Limits.Make),
				quantity.FormatDuration(s.ShortestPress), scansNeeded, quantity.FormatDuration(s.Period),
				quantity.FormatDuration(most)))
		}
	}
	return l.warnings()
}

func (b *board) settling(r *Report) (all []Warning) {
	s, t := b.scanner, r.Timing
	switch needed := t.Needed(); {
	case t.Rise == Never || t.Fall == Never: // said of the limits already
	case needed > s.Settle:
		all = append(all, Warning{Says: fmt.Sprintf("a line needs up to %s to settle and is read after %s, so "+
			"a key may show in the next column too; wait longer, or make the pull-up stronger",
			quantity.FormatDuration(needed), quantity.FormatDuration(s.Settle))})
	}
	if t.Scan > s.Period {
		all = append(all, Warning{Says: fmt.Sprintf("%d columns of %s each take longer than the period of %s; "+
			"scan less often or wait less", t.Columns, quantity.FormatDuration(s.Settle),
			quantity.FormatDuration(s.Period))})
	}
	return all
}

func (b *board) ports(r *Report) (all []Warning) {
	s, c := b.scanner, r.Currents
	if c.Sink > s.PortCurrent {
		all = append(all, Warning{Says: fmt.Sprintf("all keys of column %s held send %v into a port rated "+
			"%v; make the pull-up weaker", b.Lines[c.SinkLine].Name, c.Sink, s.PortCurrent)})
	}
	if f := c.Fight; f != nil && s.IdleDriven && f.Most > s.PortCurrent {
		all = append(all, Warning{Keys: []int{f.Low, f.High}, Says: fmt.Sprintf("held together send up to %v from "+
			"one column's port into the other's, rated %v; let idle columns float, or fit a diode at each key",
			f.Most, s.PortCurrent)})
	}
	return all
}
