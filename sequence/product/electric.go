package product

import (
	"math"
	"slices"

	yaml "go.yaml.in/yaml/v4"

	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
)

// Nominal is what a good unit is made of, for prediction and simulation.
type Nominal struct {
	Contact quantity.Ohm  // a pressed contact; a key may have its own, see [Key]
	Track   quantity.Ohm  // each piece of track between two keys
	Tail    quantity.Ohm  // from the pin to the first key
	Diode   circuit.Diode // the series diode of keys that have one
}

// What a test may do to a unit. 60 V DC is the touchable limit that standards
// for extra-low voltage give for dry indoor use; membrane makers rate their
// switches from 20 to 100 mA.
const (
	touchable   = quantity.Volt(60)
	mostCurrent = quantity.Ampere(100e-3)
)

func (b *builder) test(o object) {
	t := &b.p.Test
	t.MaxCurrent, t.MaxVoltage = 5e-3, 5
	t.Rectangles = b.hasRectangles()
	l, _ := b.section(o, "test", "current", "voltage", "rectangles", "insulation")
	b.refuseInsulation(l)
	if at, ok := bounds(b.source, l, "current", quantity.ParseAmpere, nil, &t.MaxCurrent); ok {
		if t.MaxCurrent <= 0 || t.MaxCurrent > mostCurrent {
			b.wrong(at, `current: %v is beyond what a keypad carries; write it like "at most 5 mA", %v `+
				`at most`,
				t.MaxCurrent, mostCurrent)
		}
	}
	at, ok := bounds(b.source, l, "voltage", quantity.ParseVolt, nil, &t.MaxVoltage)
	if ok {
		b.checkVoltage(at)
	}
	if w, ok := b.line(l, "rectangles"); ok {
		t.Rectangles = b.choice(l, "rectangles", "no", "yes") == "yes"
		if t.Rectangles && !b.hasRectangles() && b.sound() {
			b.wrong(w.place, `rectangles: without diodes three pressed corners always read as the `+
				`fourth, so the test shows nothing; write "no" or give the matrix its diodes`)
		}
	}
}

// refuseInsulation answers the wish for an insulation test at high voltage.
// ASTM F1689 warns that such a test may destroy the switch and that a unit
// which has had it is not to be relied on (seen); F2073, on every unit, is to
// stay at the switch's own voltage (seen).
func (b *builder) refuseInsulation(l object) {
	if f, ok := l.get("insulation"); ok {
		b.wrong(f.name.place, `insulation: padjig makes no insulation test at high voltage: it can damage `+
			`the pad unseen, and a unit that has had one should not be shipped. Every unit's insulation resistance `+
			`is measured within test voltage instead; delete this, and set "rest" under limits, such as `+
			`"at least 50 Mohm"`)
	}
}

func (b *builder) checkVoltage(at place) {
	v := b.p.Test.MaxVoltage
	switch {
	case v > touchable:
		b.wrong(at, `voltage: %v is above 60 V DC, the limit for parts a person may touch, and operators `+
			`touch keypads; write it like "at most 5 V"`, v)
	case v <= 0:
		b.wrong(at, `voltage: nothing can be measured at %v; write it like "at most 5 V"`, v)
	}
	for _, k := range b.p.Keys {
		if k.Diode != NoDiode && v <= k.Limits.ForwardMax {
			b.wrong(at, "voltage: %v cannot make diodes conduct whose limit is %v; raise it", v,
				k.Limits.ForwardMax)
			return
		}
	}
}

// hasRectangles reports whether the matrix has diodes and room for a rectangle.
func (b *builder) hasRectangles() bool {
	diodes := slices.ContainsFunc(b.drafts, func(d *draft) bool { return d.inMatrix() && d.Diode != NoDiode })
	return diodes && len(b.p.Rows) > 1 && len(b.p.Columns) > 1
}

// nominal fills in the values of a good unit. The defaults are parts of the
// closed limit (a quarter for the contact), so that a good unit lies well
// inside it, whatever the construction.
func (b *builder) nominal(o object) {
	n := &b.p.Nominal
	limit := b.limits.Limits
	*n = Nominal{quarter(limit), limit.ClosedMax / 200, limit.ClosedMax / 50, circuit.SmallSignal}
	l, _ := b.section(o, "nominal", "contact", "track", "tail", "diode")
	_, stated := exact(b.source, l, "contact", quantity.ParseOhm, &n.Contact)
	exact(b.source, l, "track", quantity.ParseOhm, &n.Track)
	exact(b.source, l, "tail", quantity.ParseOhm, &n.Tail)
	if f, ok := l.get("diode"); ok {
		b.nominalDiode(f)
	}
	for i, d := range b.drafts {
		k := &b.p.Keys[i]
		k.Contact = n.Contact
		if !stated {
			k.Contact = quarter(k.Limits)
		}
		if d.group != nil {
			exact(b.source, d.group.fields, "contact", quantity.ParseOhm, &k.Contact)
		}
		exact(b.source, d.fields, "contact", quantity.ParseOhm, &k.Contact)
	}
	b.checkNominal(l)
}

func quarter(l Limits) quantity.Ohm { return l.ClosedMin + (l.ClosedMax-l.ClosedMin)/4 }

// nominalDiode reads "0.6 V at 1 mA" or the three parameters of Shockley's law.
func (b *builder) nominalDiode(f field) {
	d := &b.p.Nominal.Diode
	if f.value.Kind == yaml.ScalarNode {
		b.operatingPoint(f, b.words(f))
		return
	}
	l := b.object(f.value, "diode", "saturation", "emission", "series")
	if at, ok := exact(b.source, l, "saturation", quantity.ParseAmpere, &d.Is); ok && d.Is <= 0 {
		b.wrong(at, `saturation current must be above zero; write it like "2.5 nA"`)
	}
	b.numbers(l, "emission", 0.5, 10, &d.N)
	exact(b.source, l, "series", quantity.ParseOhm, &d.Rs)
}

func (b *builder) operatingPoint(f field, words []word) {
	at := indexOf(words, "at")
	if at < 1 {
		b.wrong(f.at(), `diode cannot be %q; write its drop at a current, such as "0.6 V at 1 mA"`,
			joined(words))
		return
	}
	v, ok := quantityAt(b.source, "diode", words[:at], quantity.ParseVolt)
	i, okI := quantityAt(b.source, "diode", words[at+1:], quantity.ParseAmpere)
	if !ok || !okI {
		return
	}
	d := &b.p.Nominal.Diode
	junction := float64(v) - float64(i)*float64(d.Rs)
	if junction < float64(leastForward) || v > mostForward || i <= 0 {
		b.wrong(f.at(), `diode: %v at %v is not plausible; write its drop at a current, such as "0.6 V `+
			`at 1 mA"`, v, i)
		return
	}
	// Shockley's law solved for the saturation current.
	d.Is = quantity.Ampere(float64(i) / math.Expm1(junction/(d.N*float64(circuit.ThermalVoltage))))
}

// checkNominal holds the values of a good unit to the limits.
func (b *builder) checkNominal(l object) {
	if !b.sound() {
		return
	}
	for i, k := range b.p.Keys {
		r := b.p.Loop(i)
		if r > k.Limits.ClosedMin && r < k.Limits.ClosedMax {
			continue
		}
		at := b.drafts[i].at
		if len(l.fields) > 0 {
			at = l.at
		}
		b.wrong(at, "a good unit would read %v at key %q by the nominal values, which is outside its "+
			"closed limits (%v to %v); correct nominal, or give the key a contact value of its own", r, k.Label,
			k.Limits.ClosedMin,
			k.Limits.ClosedMax)
		return // the others follow from the same values
	}
}

// Loop gives the resistance of a pressed key of a good unit as seen at the
// tail: both tails, both tracks as far as the key, and the contact.
func (p *Product) Loop(key int) quantity.Ohm {
	k := p.Keys[key]
	r := k.Contact + 2*p.Nominal.Tail
	for _, l := range []int{k.A, k.B} {
		r += quantity.Ohm(1+slices.Index(p.Lines[l].Track, key)) * p.Nominal.Track
	}
	return r
}
