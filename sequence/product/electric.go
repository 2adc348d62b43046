package product

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
	"padjig/sequence/fields"
	"padjig/sequence/prove"
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

func readTest(o fields.Object, p *Product, rectangles bool) {
	t := &p.Test
	*t = Test{MaxCurrent: 5e-3, MaxVoltage: 5, Rectangles: rectangles}
	l, _ := o.Section("test", "current", "voltage", "rectangles", "insulation", "also required", "not required", "contact current")
	// ASTM F1689 warns that an insulation test at high voltage may destroy the switch and that a
	// unit which has had it is not to be relied on (seen); F2073, on every unit, is to stay at
	// the switch's own voltage (seen).
	if f, ok := l.Get("insulation"); ok {
		l.Wrong(f.Name.Place, "insulation.test")
	}
	if at, ok := fields.Bounds(l, "current", quantity.ParseAmpere, nil, &t.MaxCurrent); ok &&
		(t.MaxCurrent <= 0 || t.MaxCurrent > mostCurrent) {
		l.Wrong(at, "current.odd", t.MaxCurrent, mostCurrent)
	}
	if at, ok := fields.Bounds(l, "voltage", quantity.ParseVolt, nil, &t.MaxVoltage); ok {
		checkVoltage(l.Collector, at, t.MaxVoltage, p.Keys)
	}
	if w, ok := l.Line("rectangles"); ok {
		t.Rectangles = l.Choice("rectangles", "no", "yes") == "yes"
		if t.Rectangles && !rectangles && l.Sound() {
			l.Wrong(w.Place, "rectangles")
		}
	}
	t.Contact = readContactCurrent(l, p, o.Has("scanner"))
	t.AlsoRequired = readProofs(l, "also required", mayAlso, func(prove.Proof) bool { return true })
	t.NotRequired = readProofs(l, "not required", mayNot, func(p prove.Proof) bool { return p != prove.Rectangles || t.Rectangles })
}

// leastContact is the smallest current at which a contact of a keypad is of use to anybody:
// a pull-up of several megohm.
const leastContact = quantity.Ampere(100e-9)

// ofScanner stands for the current that the scanner sends through a contact.
const ofScanner = "scanner"

// readContactCurrent reads at which current contacts have to keep to their limits. Where the
// scanner is stated, it is the scanner's own; through a series diode there is none to tell.
func readContactCurrent(l fields.Object, p *Product, stated bool) (c ContactCurrent) {
	w, ok := l.Line("contact current")
	if !ok {
		return c
	}
	switch {
	case !slices.ContainsFunc(p.Keys, func(k Key) bool { return k.Diode == NoDiode }):
		l.Wrong(w.Place, "contact.diodes")
	case w.Text == ofScanner && !stated:
		l.Wrong(w.Place, "contact.scanner")
	case w.Text == ofScanner:
		c.Scanner = true
	case stated:
		l.Wrong(w.Place, "contact.stated", w.Text)
	default:
		at, ok := fields.Exact(l, "contact current", quantity.ParseAmpere, &c.Stated)
		if ok && (c.Stated < leastContact || c.Stated > p.Test.MaxCurrent) {
			l.Wrong(at, "contact.current", c.Stated, leastContact, p.Test.MaxCurrent)
		}
	}
	return c
}

// ContactCurrent is the current at which the contact of a key has to keep to its limits:
// the least that the scanner may send through one at its limit, since what is not ohmic
// has most resistance there. It is 0 where none is asked for, and for a key with a diode.
func (p *Product) ContactCurrent(key int) quantity.Ampere {
	switch k, c := p.Keys[key], p.Test.Contact; {
	case k.Diode != NoDiode:
		return 0
	case c.Scanner:
		return p.Scanner.LeastCurrent(k.Limits.ClosedMax)
	default:
		return c.Stated
	}
}

// What a product may add to what a pass proves, and what it may leave out: what some
// jigs, or ways of pressing, cannot show. The rest is shown by every test that presses
// the keys, and a pass without it would say nothing.
var (
	mayAlso = []prove.Proof{prove.Seating}
	mayNot  = []prove.Proof{prove.BounceClosing, prove.BounceOpening, prove.Rectangles}
)

// readProofs reads proofs with commas between them.
func readProofs(l fields.Object, name string, allowed []prove.Proof, tested func(prove.Proof) bool) (out []prove.Proof) {
	w, ok := l.Line(name)
	if !ok {
		return nil
	}
	for part := range strings.SplitSeq(w.Text, ",") {
		switch p := prove.Proof(strings.TrimSpace(part)); {
		case !slices.Contains(allowed, p):
			l.Wrong(w.Place, "proof", name, p, prove.Listed(allowed))
		case !tested(p):
			l.Wrong(w.Place, "proof.untested", name, p)
		case slices.Contains(out, p):
			l.Wrong(w.Place, "proof.twice", name, p)
		default:
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b prove.Proof) int { return cmp.Compare(slices.Index(allowed, a), slices.Index(allowed, b)) })
	return out
}

func checkVoltage(c *fields.Collector, at fields.Place, v quantity.Volt, keys []Key) {
	switch {
	case v > touchable:
		c.Wrong(at, "voltage.high", v)
	case v <= 0:
		c.Wrong(at, "voltage.none", v)
	}
	for _, k := range keys {
		if k.Diode != NoDiode && v <= k.Limits.ForwardMax {
			c.Wrong(at, "voltage.diodes", v, k.Limits.ForwardMax)
			return
		}
	}
}

// nominal fills in the values of a good unit. The defaults are parts of the
// limit of contact resistance (a quarter for the contact), so that a good unit lies well
// inside it, whatever the construction.
func nominal(o fields.Object, p *Product, keys drafts, limit Limits) {
	n := &p.Nominal
	*n = Nominal{quarter(limit), limit.ClosedMax / 200, limit.ClosedMax / 50, circuit.SmallSignal}
	l, _ := o.Section("nominal", "contact", "track", "tail", "diode")
	_, stated := fields.Exact(l, "contact", quantity.ParseOhm, &n.Contact)
	fields.Exact(l, "track", quantity.ParseOhm, &n.Track)
	fields.Exact(l, "tail", quantity.ParseOhm, &n.Tail)
	if f, ok := l.Get("diode"); ok {
		nominalDiode(f, &n.Diode)
	}
	for _, d := range keys {
		d.Contact = n.Contact
		if !stated {
			d.Contact = quarter(d.Limits)
		}
		if d.group != nil {
			fields.Exact(d.group.fields, "contact", quantity.ParseOhm, &d.Contact)
		}
		fields.Exact(d.fields, "contact", quantity.ParseOhm, &d.Contact)
	}
	if o.Sound() {
		checkNominal(l, p, keys)
	}
}

func quarter(l Limits) quantity.Ohm { return l.ClosedMin + (l.ClosedMax-l.ClosedMin)/4 }

// nominalDiode reads "0.6 V at 1 mA" or the three parameters of Shockley's law.
func nominalDiode(f fields.Field, d *circuit.Diode) {
	if f.IsText() {
		operatingPoint(f, d)
		return
	}
	l := f.Object("diode", "saturation", "emission", "series")
	if at, ok := fields.Exact(l, "saturation", quantity.ParseAmpere, &d.Is); ok && d.Is <= 0 {
		l.Wrong(at, "saturation.none")
	}
	l.Numbers("emission", 0.5, 10, &d.N)
	fields.Exact(l, "series", quantity.ParseOhm, &d.Rs)
}

func operatingPoint(f fields.Field, d *circuit.Diode) {
	words := f.Words()
	at := fields.IndexOf(words, "at")
	if at < 1 {
		f.Wrong(f.At(), "point", fields.Joined(words))
		return
	}
	v, ok := fields.Quantity(f, words[:at], quantity.ParseVolt)
	i, okI := fields.Quantity(f, words[at+1:], quantity.ParseAmpere)
	if !ok || !okI {
		return
	}
	junction := float64(v) - float64(i)*float64(d.Rs)
	if junction < float64(leastForward) || v > mostForward || i <= 0 {
		f.Wrong(f.At(), "point.odd", v, i)
		return
	}
	// Shockley's law solved for the saturation current.
	d.Is = quantity.Ampere(float64(i) / math.Expm1(junction/(d.N*float64(circuit.ThermalVoltage))))
}

// checkNominal holds the values of a good unit to the limits.
func checkNominal(l fields.Object, p *Product, keys drafts) {
	for i, k := range p.Keys {
		r := p.Loop(i)
		if r > k.Limits.ClosedMin && r < k.Limits.ClosedMax {
			continue
		}
		at := keys[i].at
		if len(l.Fields) > 0 {
			at = l.At
		}
		l.Wrong(at, "nominal.outside", r, k.Label, k.Limits.ClosedMin, k.Limits.ClosedMax)
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
