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

func readTest(o object, p *Product, rectangles bool) {
	t := &p.Test
	*t = Test{MaxCurrent: 5e-3, MaxVoltage: 5, Rectangles: rectangles}
	l, _ := o.section("test", "current", "voltage", "rectangles", "insulation")
	// ASTM F1689 warns that an insulation test at high voltage may destroy the switch and that a
	// unit which has had it is not to be relied on (seen); F2073, on every unit, is to stay at
	// the switch's own voltage (seen).
	if f, ok := l.get("insulation"); ok {
		l.wrong(f.name.place, "insulation")
	}
	if at, ok := bounds(l, "current", quantity.ParseAmpere, nil, &t.MaxCurrent); ok &&
		(t.MaxCurrent <= 0 || t.MaxCurrent > mostCurrent) {
		l.wrong(at, "current.odd", t.MaxCurrent, mostCurrent)
	}
	if at, ok := bounds(l, "voltage", quantity.ParseVolt, nil, &t.MaxVoltage); ok {
		checkVoltage(l.collector, at, t.MaxVoltage, p.Keys)
	}
	if w, ok := l.line("rectangles"); ok {
		t.Rectangles = l.choice("rectangles", "no", "yes") == "yes"
		if t.Rectangles && !rectangles && l.sound() {
			l.wrong(w.place, "rectangles")
		}
	}
}

func checkVoltage(c *collector, at place, v quantity.Volt, keys []Key) {
	switch {
	case v > touchable:
		c.wrong(at, "voltage.high", v)
	case v <= 0:
		c.wrong(at, "voltage.none", v)
	}
	for _, k := range keys {
		if k.Diode != NoDiode && v <= k.Limits.ForwardMax {
			c.wrong(at, "voltage.diodes", v, k.Limits.ForwardMax)
			return
		}
	}
}

// nominal fills in the values of a good unit. The defaults are parts of the
// closed limit (a quarter for the contact), so that a good unit lies well
// inside it, whatever the construction.
func nominal(o object, p *Product, keys drafts, limit Limits) {
	n := &p.Nominal
	*n = Nominal{quarter(limit), limit.ClosedMax / 200, limit.ClosedMax / 50, circuit.SmallSignal}
	l, _ := o.section("nominal", "contact", "track", "tail", "diode")
	_, stated := exact(l, "contact", quantity.ParseOhm, &n.Contact)
	exact(l, "track", quantity.ParseOhm, &n.Track)
	exact(l, "tail", quantity.ParseOhm, &n.Tail)
	if f, ok := l.get("diode"); ok {
		nominalDiode(f, &n.Diode)
	}
	for _, d := range keys {
		d.Contact = n.Contact
		if !stated {
			d.Contact = quarter(d.Limits)
		}
		if d.group != nil {
			exact(d.group.fields, "contact", quantity.ParseOhm, &d.Contact)
		}
		exact(d.fields, "contact", quantity.ParseOhm, &d.Contact)
	}
	if o.sound() {
		checkNominal(l, p, keys)
	}
}

func quarter(l Limits) quantity.Ohm { return l.ClosedMin + (l.ClosedMax-l.ClosedMin)/4 }

// nominalDiode reads "0.6 V at 1 mA" or the three parameters of Shockley's law.
func nominalDiode(f field, d *circuit.Diode) {
	if f.value.Kind == yaml.ScalarNode {
		operatingPoint(f, d)
		return
	}
	l := f.object("diode", "saturation", "emission", "series")
	if at, ok := exact(l, "saturation", quantity.ParseAmpere, &d.Is); ok && d.Is <= 0 {
		l.wrong(at, "saturation.none")
	}
	l.numbers("emission", 0.5, 10, &d.N)
	exact(l, "series", quantity.ParseOhm, &d.Rs)
}

func operatingPoint(f field, d *circuit.Diode) {
	words := f.words()
	at := indexOf(words, "at")
	if at < 1 {
		f.wrong(f.at(), "point", joined(words))
		return
	}
	v, ok := quantityAt(f, words[:at], quantity.ParseVolt)
	i, okI := quantityAt(f, words[at+1:], quantity.ParseAmpere)
	if !ok || !okI {
		return
	}
	junction := float64(v) - float64(i)*float64(d.Rs)
	if junction < float64(leastForward) || v > mostForward || i <= 0 {
		f.wrong(f.at(), "point.odd", v, i)
		return
	}
	// Shockley's law solved for the saturation current.
	d.Is = quantity.Ampere(float64(i) / math.Expm1(junction/(d.N*float64(circuit.ThermalVoltage))))
}

// checkNominal holds the values of a good unit to the limits.
func checkNominal(l object, p *Product, keys drafts) {
	for i, k := range p.Keys {
		r := p.Loop(i)
		if r > k.Limits.ClosedMin && r < k.Limits.ClosedMax {
			continue
		}
		at := keys[i].at
		if len(l.fields) > 0 {
			at = l.at
		}
		l.wrong(at, "nominal.outside", r, k.Label, k.Limits.ClosedMin, k.Limits.ClosedMax)
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
