package margin

import (
	"fmt"
	"math"
	"slices"
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

// review is a report held against its product.
type review struct {
	*product.Product
	*Report
}

// warnings lists what is wrong, the limits first.
func (v review) warnings() []Warning {
	closed := v.tightest(func(k Key) quantity.Ohm { return -k.Pressed.Allowed })
	rest := v.tightest(func(k Key) quantity.Ohm { return k.Released.Allowed })
	return slices.Concat(
		v.loose(unread),
		v.loose(func(k Key, l product.Limits) string { return tooClosed(k, l, -closed[l]) }),
		v.loose(func(k Key, l product.Limits) string { return tooOpen(k, rest[l]) }),
		v.loose(v.bounce), v.loose(v.short), v.settling(), v.ports())
}

// loose gives one warning for each thing said of keys, with all of them.
func (v review) loose(of func(Key, product.Limits) string) (all []Warning) {
	for k, key := range v.Report.Keys {
		says := of(key, v.Product.Keys[k].Limits)
		if says == "" {
			continue
		}
		i := slices.IndexFunc(all, func(w Warning) bool { return w.Says == says })
		if i < 0 {
			i = len(all)
			all = append(all, Warning{Loose: true, Says: says})
		}
		all[i].Keys = append(all[i].Keys, k)
	}
	return all
}

func unread(key Key, _ product.Limits) string {
	if key.Unread == "" {
		return ""
	}
	return "never read: " + key.Unread + "; correct the key or the scanner"
}

// tooClosed holds a closed limit against the least that any key with the same limits may have.
func tooClosed(key Key, l product.Limits, allowed quantity.Ohm) string {
	most := rounded(allowed, math.Floor)
	switch {
	case key.Unread != "" || key.Pressed.Margin >= 0:
		return ""
	case most <= 0:
		return fmt.Sprintf("a diode of %v, which the limit permits, leaves nothing of the low threshold; "+
			"lower the diode limit or choose a scanner with a higher threshold", l.ForwardMax)
	}
	return fmt.Sprintf("contact resistance limit of %v is looser than the scanner allows; "+
		"write contact resistance at most %v", key.Pressed.Limit, most)
}

func tooOpen(key Key, allowed quantity.Ohm) string {
	switch {
	case key.Unread != "" || key.Released.Margin >= 0:
		return ""
	case allowed.IsOpen():
		return "reads released at no insulation resistance: the supply at its lower end, or what else leaks " +
			"to ground, does not let the row rise to the high threshold; correct the scanner"
	}
	return fmt.Sprintf("insulation resistance limit of %v is looser than the scanner allows; "+
		"write insulation resistance at least %v", key.Released.Limit, rounded(allowed, math.Ceil))
}

// tightest is the largest of a figure among the keys that are read, for each set of limits.
func (v review) tightest(of func(Key) quantity.Ohm) map[product.Limits]quantity.Ohm {
	all := map[product.Limits]quantity.Ohm{}
	for k, key := range v.Report.Keys {
		if key.Unread != "" {
			continue
		}
		limits := v.Product.Keys[k].Limits
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
func (v review) bounce(_ Key, l product.Limits) string {
	window, longest := v.Scanner.Debounce, max(l.Make, l.Break)
	if window == 0 || longest <= window {
		return ""
	}
	return fmt.Sprintf("bounce limit of %s is longer than the %s that the scanner sees through; write "+
		"bounce on closing and bounce on opening at most %s", quantity.FormatDuration(longest), quantity.FormatDuration(window),
		quantity.FormatDuration(window))
}

// short holds the bounce limits against a short press: what is left must last for two scans.
func (v review) short(key Key, l product.Limits) string {
	s := v.Scanner
	most := s.ShortestPress - scansNeeded*s.Period
	press, period := quantity.FormatDuration(s.ShortestPress), quantity.FormatDuration(s.Period)
	switch {
	case key.Unread != "" || key.Scans >= scansNeeded:
		return ""
	case most < 100*time.Microsecond:
		return fmt.Sprintf("a press of %s can pass between scans %s apart; shorten the period", press, period)
	}
	return fmt.Sprintf("bounce of %s on closing leaves a press of %s fewer than %d scans, %s apart; "+
		"write bounce on closing at most %s", quantity.FormatDuration(l.Make), press, scansNeeded, period,
		quantity.FormatDuration(most))
}

func (v review) settling() (all []Warning) {
	s, t := v.Scanner, v.Timing
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

func (v review) ports() (all []Warning) {
	s, c := v.Scanner, v.Currents
	if c.Sink > s.PortCurrent {
		all = append(all, Warning{Says: fmt.Sprintf("all keys of column %s held send %v into a port rated "+
			"%v; make the pull-up weaker", v.Lines[c.SinkLine].Name, c.Sink, s.PortCurrent)})
	}
	if f := c.Fight; f != nil && s.IdleDriven && f.Most > s.PortCurrent {
		all = append(all, Warning{Keys: []int{f.Low, f.High}, Says: fmt.Sprintf("held together send up to %v from "+
			"one column's port into the other's, rated %v; let idle columns float, or fit a diode at each key",
			f.Most, s.PortCurrent)})
	}
	return all
}
