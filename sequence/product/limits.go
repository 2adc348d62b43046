package product

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/fixture/quantity"
	"padjig/sequence/decide"
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

// sheet is a set of limits and where each was stated; one not stated has no place.
type sheet struct {
	Limits
	closed, rest, make, brk, diode, guard place
}

// over lays s over base.
func (s sheet) over(base sheet) sheet {
	if s.closed.known() {
		base.closed, base.ClosedMin, base.ClosedMax = s.closed, s.ClosedMin, s.ClosedMax
	}
	if s.rest.known() {
		base.rest, base.RestMin = s.rest, s.RestMin
	}
	if s.make.known() {
		base.make, base.Make = s.make, s.Make
	}
	if s.brk.known() {
		base.brk, base.Break = s.brk, s.Break
	}
	if s.diode.known() {
		base.diode, base.ForwardMin, base.ForwardMax = s.diode, s.ForwardMin, s.ForwardMax
	}
	if s.guard.known() {
		base.guard, base.Guard = s.guard, s.Guard
	}
	return base
}

// judge resolves the limits of every key: its own over its group's over the
// product's over the defaults.
func (b *builder) judge(o object) {
	b.limits = b.sheet(o).over(sheet{Limits: defaults})
	b.crossed(b.limits, b.limits)
	for _, g := range b.groups {
		own := b.sheet(g.fields)
		g.sheet = own.over(b.limits)
		b.crossed(g.sheet, own)
	}
	if b.limits.diode.known() && !slices.ContainsFunc(b.drafts,
		func(d *draft) bool { return d.Diode != NoDiode }) {
		b.wrong(b.limits.diode, `no key has a diode to limit; add "diodes: row to column" to the matrix, `+
			`or take this out`)
	}
	for i, d := range b.drafts {
		of := b.limits
		if d.group != nil {
			of = d.group.sheet
		}
		own := b.sheet(d.fields)
		of = own.over(of)
		b.crossed(of, own)
		if d.Diode == NoDiode {
			if own.diode.known() {
				b.wrong(own.diode, "key %q has no diode to limit; give it one, or take this limit out", d.Label)
			}
			of.ForwardMin, of.ForwardMax = 0, 0
		}
		b.p.Keys[i].Limits = of.Limits
	}
}

// sheet reads the limits section of a product, a group or a key.
func (b *builder) sheet(o object) sheet {
	var s sheet
	l, ok := b.section(o, "limits", "closed", "rest", "make", "break", "diode", "guard")
	if !ok {
		return s
	}
	s.closed = b.closedLimit(l, &s)
	s.rest = b.restLimit(l, &s)
	s.make = b.bounceLimit(l, "make", &s.Make)
	s.brk = b.bounceLimit(l, "break", &s.Break)
	s.diode = b.diodeLimit(l, &s)
	s.guard = b.guardBand(l, &s)
	return s
}

func (b *builder) closedLimit(l object, s *sheet) place {
	at, ok := bounds(b.source, l, "closed", quantity.ParseOhm, &s.ClosedMin, &s.ClosedMax)
	switch {
	case !ok:
		return place{}
	case s.ClosedMax == 0:
		b.wrong(at, `closed: a pressed key needs an upper limit; write "at most 200 ohm" or "5 ohm to 200 ohm"`)
		return place{}
	case s.ClosedMax < leastClosed || s.ClosedMax > mostClosed:
		b.wrong(at, `closed: %v is not plausible for a pressed key (%v to %v); write it like "at most `+
			`200 ohm"`,
			s.ClosedMax, leastClosed, mostClosed)
		return place{}
	}
	return at
}

func (b *builder) restLimit(l object, s *sheet) place {
	at, ok := bounds(b.source, l, "rest", quantity.ParseOhm, &s.RestMin, nil)
	switch {
	case !ok:
		return place{}
	case s.RestMin < leastRest || s.RestMin > mostRest:
		b.wrong(at, `rest: %v is not plausible for a key at rest (%v to %v); write it like "at least 10 `+
			`Mohm"`,
			s.RestMin, leastRest, mostRest)
		return place{}
	}
	return at
}

func (b *builder) bounceLimit(l object, name string, d *time.Duration) place {
	at, ok := bounds(b.source, l, name, quantity.ParseDuration, nil, d)
	switch {
	case !ok:
		return place{}
	case *d < leastBounce || *d > mostBounce:
		b.wrong(at, `%s: a bounce of %s is not plausible (%s to %s); write it like "at most 10 ms"`, name,
			quantity.FormatDuration(*d), quantity.FormatDuration(leastBounce),
			quantity.FormatDuration(mostBounce))
		return place{}
	}
	return at
}

func (b *builder) diodeLimit(l object, s *sheet) place {
	at, ok := bounds(b.source, l, "diode", quantity.ParseVolt, &s.ForwardMin, &s.ForwardMax)
	switch {
	case !ok:
		return place{}
	case s.ForwardMin < leastForward || s.ForwardMax > mostForward || s.ForwardMax == 0:
		b.wrong(at, `diode: the forward voltage needs two ends from %v to %v; write them like "0.3 V to 1.0 V"`,
			leastForward, mostForward)
		return place{}
	}
	return at
}

func (b *builder) guardBand(l object, s *sheet) place {
	w, ok := b.line(l, "guard")
	if !ok {
		return place{}
	}
	guard, ok := parseGuard(w.text)
	if !ok {
		b.wrong(w.place, `guard cannot be %q; write a multiple of the expanded uncertainty up to %v, such as "1 U" `+
			`or "0.83 U", or the risk below 50 %% that a reading right at the edge may carry, such as "risk 1 %%", `+
			`or "none"`, w.text, mostGuard)
		return place{}
	}
	s.Guard = guard
	return w.place
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

// numberOf reads a number with its unit behind it.
func numberOf(text, unit string) (float64, bool) {
	number, ok := cutUnit(text, unit)
	v, err := strconv.ParseFloat(number, 64)
	return v, ok && err == nil
}

// crossed reports limits of which a good key could not keep both. They are
// blamed on the part of the file that states one of them last.
func (b *builder) crossed(s, own sheet) {
	at := own.closed
	if own.rest.after(at) {
		at = own.rest
	}
	if s.RestMin > s.ClosedMax || !at.known() {
		return
	}
	b.wrong(at, "rest limit %v is not above closed limit %v, so a key could be pressed and released at "+
		"once; raise rest or lower closed", s.RestMin, s.ClosedMax)
}
