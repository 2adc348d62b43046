package product

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/fixture/quantity"
	"padjig/sequence/decide"
	"padjig/sequence/fields"
)

// defaults are the limits of a product that states none: a silicone rubber
// pad with carbon pills on gold, whose closed resistance makers put below 200
// ohm and whose bounce below 5 ms; doubled, since what counts is the debounce
// window of the host, commonly 5 to 20 ms. They are a place to start from, not
// an acceptance criterion.
var defaults = Limits{
	ClosedMax: 200, RestMin: 10e6, Make: 10 * time.Millisecond, Break: 10 * time.Millisecond,
	ForwardMin: 0.3, ForwardMax: 1.0, Guard: 1,
}

// What a limit can plausibly be; a value beyond is taken for a slip of the
// unit. The bounds lie well outside everything makers publish: contacts from
// 0.1 ohm to 2.5 kohm, insulation from 10 Mohm, bounce from 1 ms to 20 ms.
const (
	leastClosed, mostClosed   = quantity.Ohm(10e-3), quantity.Ohm(100e3)
	leastRest, mostRest       = quantity.Ohm(10e3), quantity.Ohm(1e12)
	leastBounce, mostBounce   = 100 * time.Microsecond, 200 * time.Millisecond
	leastForward, mostForward = quantity.Volt(0.05), quantity.Volt(5)
	mostGuard                 = 3.0 // beyond three expanded uncertainties nothing is gained
)

// stated is where a part of the file states limits that can contradict others; one not
// stated has no place.
type stated struct{ contact, insulation, diode fields.Place }

// judge resolves the limits of every key: its own over its group's over the
// product's over the defaults. It gives the product's.
func judge(o fields.Object, keys drafts, groups []*group) Limits {
	general, at := readLimits(o, defaults)
	at.crossed(o.Collector, general)
	for _, g := range groups {
		var own stated
		g.limits, own = readLimits(g.fields, general)
		own.crossed(o.Collector, g.limits)
	}
	if at.diode.Known() && !slices.ContainsFunc(keys, func(d *draft) bool { return d.Diode != NoDiode }) {
		o.Wrong(at.diode, "limits.diodeless")
	}
	for _, d := range keys {
		base := general
		if d.group != nil {
			base = d.group.limits
		}
		var own stated
		d.Limits, own = readLimits(d.fields, base)
		own.crossed(o.Collector, d.Limits)
		if d.Diode == NoDiode {
			if own.diode.Known() {
				o.Wrong(own.diode, "key.diodeless", d.Label)
			}
			d.Limits.ForwardMin, d.Limits.ForwardMax = 0, 0
		}
	}
	return general
}

// readLimits lays the limits section of a product, a group or a key over base. What is wrong
// leaves base as it is.
func readLimits(o fields.Object, base Limits) (Limits, stated) {
	var at stated
	l, ok := o.Section("limits", "contact resistance", "insulation resistance", "bounce on closing",
		"bounce on opening", "diode", "guard")
	if !ok {
		return base, at
	}
	at.contact = contactLimit(l, &base)
	at.insulation = insulationLimit(l, &base)
	bounceLimit(l, "bounce on closing", &base.Make)
	bounceLimit(l, "bounce on opening", &base.Break)
	at.diode = diodeLimit(l, &base)
	guardBand(l, &base.Guard)
	return base, at
}

func contactLimit(l fields.Object, of *Limits) fields.Place {
	var least, most quantity.Ohm
	at, ok := fields.Bounds(l, "contact resistance", quantity.ParseOhm, &least, &most)
	switch {
	case !ok:
		return fields.Place{}
	case most == 0:
		l.Wrong(at, "contact.open")
		return fields.Place{}
	case most < leastClosed || most > mostClosed:
		l.Wrong(at, "contact.odd", most, leastClosed, mostClosed)
		return fields.Place{}
	}
	of.ClosedMin, of.ClosedMax = least, most
	return at
}

func insulationLimit(l fields.Object, of *Limits) fields.Place {
	var least quantity.Ohm
	at, ok := fields.Bounds(l, "insulation resistance", quantity.ParseOhm, &least, nil)
	switch {
	case !ok:
		return fields.Place{}
	case least < leastRest || least > mostRest:
		l.Wrong(at, "insulation.odd", least, leastRest, mostRest)
		return fields.Place{}
	}
	of.RestMin = least
	return at
}

func bounceLimit(l fields.Object, name string, of *time.Duration) {
	var most time.Duration
	switch at, ok := fields.Bounds(l, name, quantity.ParseDuration, nil, &most); {
	case !ok:
	case most < leastBounce || most > mostBounce:
		l.Wrong(at, "bounce.odd", name, duration(most), duration(leastBounce), duration(mostBounce))
	default:
		*of = most
	}
}

func diodeLimit(l fields.Object, of *Limits) fields.Place {
	var least, most quantity.Volt
	at, ok := fields.Bounds(l, "diode", quantity.ParseVolt, &least, &most)
	switch {
	case !ok:
		return fields.Place{}
	case least < leastForward || most > mostForward || most == 0:
		l.Wrong(at, "forward.odd", leastForward, mostForward)
		return fields.Place{}
	}
	of.ForwardMin, of.ForwardMax = least, most
	return at
}

func guardBand(l fields.Object, of *float64) {
	w, ok := l.Line("guard")
	if !ok {
		return
	}
	if guard, ok := parseGuard(w.Text); ok {
		*of = guard
	} else {
		l.Wrong(w.Place, "guard", w.Text, mostGuard)
	}
}

// parseGuard reads a guard band as a multiple of U. A risk is that of a reading
// right at one acceptance limit, its error normal.
func parseGuard(text string) (multiple float64, ok bool) {
	if text == "none" {
		return 0, true
	}
	if risk, found := strings.CutPrefix(text, "risk "); found {
		percent, ok := numberOf(risk, "%")
		multiple = decide.MultipleForRisk(min(max(percent, 0), 100) / 100)
		return multiple, ok && 0 < multiple && multiple <= mostGuard
	}
	multiple, ok = numberOf(text, "U")
	return multiple, ok && 0 < multiple && multiple <= mostGuard
}

// duration is a time as messages show it.
type duration time.Duration

func (d duration) String() string { return quantity.FormatDuration(time.Duration(d)) }

// numberOf reads a number with its unit behind it.
func numberOf(text, unit string) (float64, bool) {
	number, ok := strings.CutSuffix(text, unit)
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	return v, ok && err == nil
}

// crossed reports limits of which a good key could not keep both. They are
// blamed on the part of the file that states one of them last.
func (s stated) crossed(c *fields.Collector, l Limits) {
	at := s.contact
	if s.insulation.After(at) {
		at = s.insulation
	}
	if l.RestMin <= l.ClosedMax && at.Known() {
		c.Wrong(at, "limits.crossed", l.RestMin, l.ClosedMax)
	}
}
