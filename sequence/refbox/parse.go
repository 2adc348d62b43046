package refbox

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"padjig/fixture/quantity"
	"padjig/sequence/fields"
	"padjig/sequence/nets"
)

const (
	dateLayout = "2006-01-02"
	// maxPin is the largest number of channels a jig can have.
	maxPin = 64
	// usualK covers 95 % of a normal distribution (GUM 6.3.3).
	usualK = 2
	// coarse is the largest relative uncertainty of what may be called certified.
	coarse = 0.01
)

// Parse reads a box file; name stands in its mistakes, which come back as
// [Mistakes].
func Parse(name string, text []byte) (*Box, error) {
	s := fields.New(name, text[:min(len(text), MaxSize)], fields.Format{Sentences: sentences}, false)
	b := &Box{}
	if len(text) > MaxSize {
		s.Wrong(fields.Place{Line: 1, Column: 1}, "file.large", MaxSize>>10)
	} else if top, ok := s.Root(); ok {
		readBox(top, b)
	}
	if len(s.Found) == 0 {
		return b, nil
	}
	slices.SortStableFunc(s.Found, func(a, b fields.Mistake) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return nil, s.Found
}

// object reads a set of fields, of which no others than these are known.
func object(f fields.Field, what string, known ...string) fields.Object {
	o := f.Object(what)
	for _, have := range o.Fields {
		if !slices.Contains(known, have.Name.Text) {
			o.Wrong(have.Name.Place, "unknown", what, have.Name.Text, strings.Join(known, ", "))
		}
	}
	return o
}

// line gives a field that is one line of printable text.
func line(o fields.Object, name, example string) (fields.Word, bool) {
	f, found := o.Get(name)
	if !found {
		o.Missing(name, name+": "+example)
		return fields.Word{Place: o.At}, false
	}
	w := fields.Word{Text: strings.TrimSpace(f.Value.Value), Place: f.At()}
	switch {
	case !f.IsText() || w.Text == "":
		o.Wrong(w.Place, "text", name, example)
	case strings.ContainsFunc(w.Text, func(r rune) bool { return !unicode.IsPrint(r) }):
		o.Wrong(w.Place, "unprintable", name)
	default:
		return w, true
	}
	return w, false
}

func readBox(top fields.Field, b *Box) {
	o := object(top, "a box", "box", "serial", "certificate", "issued", "due", "resistors")
	named := func(name, example string) string {
		if w, ok := line(o, name, example); ok {
			return w.Text
		}
		return ""
	}
	b.Name, b.Serial, b.Certificate = named("box", "RB-1"), named("serial", "RB-1-0007"), named("certificate", "2026-0418")
	_, issued := date(o, "issued", &b.Issued)
	at, due := date(o, "due", &b.Due)
	if issued && due && !b.Due.After(b.Issued) {
		o.Wrong(at, "backwards")
	}
	list, found := o.Get("resistors")
	if !found {
		o.Wrong(o.At, "resistors")
		return
	}
	b.readResistors(list)
}

func date(o fields.Object, name string, to *time.Time) (fields.Place, bool) {
	w, ok := line(o, name, "2027-04-18")
	if !ok {
		return w.Place, false
	}
	t, err := time.Parse(dateLayout, w.Text)
	if err != nil {
		o.Wrong(w.Place, "date", name, w.Text)
		return w.Place, false
	}
	*to = t
	return w.Place, true
}

func (b *Box) readResistors(list fields.Field) {
	o := list.Object("resistors")
	if list.IsSet() && len(o.Fields) == 0 {
		o.Wrong(o.At, "none")
	}
	joined := nets.New(maxPin + 1)
	for _, f := range o.Fields {
		r := Resistor{Name: f.Name.Text}
		at, ok := r.read(f)
		switch {
		case !ok:
		case joined.Same(r.Pins[0], r.Pins[1]):
			o.Wrong(at, "loop", r.Name)
		default:
			joined.Join(r.Pins[0], r.Pins[1])
			b.Resistors = append(b.Resistors, r)
		}
	}
}

// read reads one resistor and says where its pins stand.
func (r *Resistor) read(f fields.Field) (pins fields.Place, ok bool) {
	f.Begin()
	o := object(f, "a resistor", "pins", "value", "uncertainty", "k")
	if !f.IsSet() {
		return o.At, false
	}
	pins = readPins(o, &r.Pins)
	ohm(o, "value", "100.003 ohm", &r.Ohm)
	var expanded quantity.Ohm
	at := ohm(o, "uncertainty", "5 mohm", &expanded)
	r.U = expanded / quantity.Ohm(coverage(o))
	if f.Sound() && r.U > coarse*r.Ohm {
		o.Wrong(at, "coarse", expanded, r.Ohm)
	}
	return pins, f.Sound()
}

func readPins(o fields.Object, to *[2]int) fields.Place {
	w, ok := line(o, "pins", "1 2")
	if !ok {
		return w.Place
	}
	words := strings.Fields(w.Text)
	if len(words) != 2 {
		o.Wrong(w.Place, "pins", w.Text)
		return w.Place
	}
	for i, word := range words {
		n, err := strconv.Atoi(word)
		if err != nil || n < 1 || n > maxPin {
			o.Wrong(w.Place, "pin", word, maxPin)
			return w.Place
		}
		to[i] = n
	}
	if to[0] == to[1] {
		o.Wrong(w.Place, "pins.same")
	}
	return w.Place
}

func ohm(o fields.Object, name, example string, to *quantity.Ohm) fields.Place {
	w, ok := line(o, name, example)
	if !ok {
		return w.Place
	}
	v, err := quantity.ParseOhm(w.Text)
	switch {
	case err != nil:
		o.Wrong(w.Place, "value", name, err)
	case v <= 0 || v > 1e12:
		o.Wrong(w.Place, "ohm", name, v)
	default:
		*to = v
	}
	return w.Place
}

func coverage(o fields.Object) float64 {
	if !o.Has("k") {
		return usualK
	}
	w, ok := line(o, "k", "2")
	if !ok {
		return usualK
	}
	k, err := strconv.ParseFloat(w.Text, 64)
	if err != nil || math.IsNaN(k) || k < 1 || k > 5 {
		o.Wrong(w.Place, "k", w.Text)
		return usualK
	}
	return k
}
