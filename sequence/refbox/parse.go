package refbox

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	yaml "go.yaml.in/yaml/v4"

	"padjig/fixture/quantity"
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
	if len(text) > MaxSize {
		return nil, Mistakes{{name, 1, 1, fmt.Sprintf("this is larger than %d KiB, which no box needs; is it a box file?",
			MaxSize>>10)}}
	}
	p := &parser{name: name}
	b := &Box{}
	if top := p.document(text); top != nil {
		p.box(top, b)
	}
	if len(p.mistakes) == 0 {
		return b, nil
	}
	slices.SortStableFunc(p.mistakes, func(a, b Mistake) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return nil, p.mistakes
}

type parser struct {
	name     string
	mistakes Mistakes
}

func (p *parser) wrong(at *yaml.Node, format string, args ...any) {
	p.mistakes = append(p.mistakes, Mistake{p.name, max(at.Line, 1), max(at.Column, 1), fmt.Sprintf(format, args...)})
}

const nothing = `nothing in this file; begin with "box: NAME"`

// document gives the top node, nil when the text cannot be read further.
func (p *parser) document(text []byte) *yaml.Node {
	var doc yaml.Node
	err := yaml.Load(text, &doc)
	var e *yaml.LoadError
	switch {
	case errors.As(err, &e) && e.Mark.Line > 0:
		at := yaml.Node{Line: e.Mark.Line, Column: e.Mark.Column}
		p.wrong(&at, "not YAML: %s; check indentation, quotes and brackets just before", e.Message)
		return nil
	case err != nil && strings.Contains(err.Error(), "no documents"):
		p.wrong(&doc, nothing)
		return nil
	case err != nil:
		p.wrong(&doc, "not YAML: %v; a box file is UTF-8 text with one box in it", err)
		return nil
	case len(doc.Content) == 0:
		p.wrong(&doc, nothing)
		return nil
	}
	return doc.Content[0]
}

// fields are the named values of a mapping.
type fields struct {
	at    *yaml.Node
	names []*yaml.Node
	value map[string]*yaml.Node
}

// mapping reads a set of fields; names other than known are mistakes, unless
// none are given, when any will do.
func (p *parser) mapping(n *yaml.Node, what string, known ...string) fields {
	f := fields{at: n, value: map[string]*yaml.Node{}}
	if n.Kind != yaml.MappingNode {
		p.wrong(n, "%s must be a set of fields, each written as \"name: value\"", what)
		return f
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		name, value := n.Content[i], n.Content[i+1]
		switch _, twice := f.value[name.Value]; {
		case twice:
			p.wrong(name, "%s has the field %q already; take one out", what, name.Value)
		case len(known) > 0 && !slices.Contains(known, name.Value):
			p.wrong(name, "%s has no field %q; write one of: %s", what, name.Value, strings.Join(known, ", "))
		default:
			f.names = append(f.names, name)
			f.value[name.Value] = value
		}
	}
	return f
}

// text gives a field that is one line of printable text.
func (p *parser) text(f fields, name, example string) (string, *yaml.Node, bool) {
	n, found := f.value[name]
	if !found {
		p.wrong(f.at, "no %s; add %q", name, name+": "+example)
		return "", f.at, false
	}
	text := strings.TrimSpace(n.Value)
	switch {
	case n.Kind != yaml.ScalarNode || n.Anchor != "" || text == "":
		p.wrong(n, "%s must be plain text, such as %q", name, example)
		return "", n, false
	case strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }):
		p.wrong(n, "%s holds a character that does not print; delete it", name)
		return "", n, false
	}
	return text, n, true
}

func (p *parser) box(n *yaml.Node, b *Box) {
	f := p.mapping(n, "a box", "box", "serial", "certificate", "issued", "due", "resistors")
	b.Name, _, _ = p.text(f, "box", "RB-1")
	b.Serial, _, _ = p.text(f, "serial", "RB-1-0007")
	b.Certificate, _, _ = p.text(f, "certificate", "2026-0418")
	issued, _ := p.date(f, "issued", &b.Issued)
	due, dueAt := p.date(f, "due", &b.Due)
	if issued && due && !b.Due.After(b.Issued) {
		p.wrong(dueAt, "due before it was issued; write the day up to which the certificate holds")
	}
	list, found := f.value["resistors"]
	if !found {
		p.wrong(n, `no resistors; add "resistors:" and a line such as "  A: {pins: 1 2, value: 100 ohm, uncertainty: 5 mohm}"`)
		return
	}
	p.resistors(list, b)
}

func (p *parser) date(f fields, name string, to *time.Time) (bool, *yaml.Node) {
	text, at, ok := p.text(f, name, "2027-04-18")
	if !ok {
		return false, at
	}
	t, err := time.Parse(dateLayout, text)
	if err != nil {
		p.wrong(at, "%s cannot be %q; write a day as 2027-04-18", name, text)
		return false, at
	}
	*to = t
	return true, at
}

func (p *parser) resistors(n *yaml.Node, b *Box) {
	list := p.mapping(n, "resistors")
	if n.Kind == yaml.MappingNode && len(list.names) == 0 {
		p.wrong(n, "no resistor in the box; add one")
	}
	joined := newForest()
	for _, name := range list.names {
		r := Resistor{Name: name.Value}
		at, ok := p.resistor(list.value[name.Value], &r)
		if !ok {
			continue
		}
		if !joined.join(r.Pins[0], r.Pins[1]) {
			p.wrong(at, "%s closes a loop with the resistors before it, so that none of them can be read alone; "+
				"use other pins", name.Value)
			continue
		}
		b.Resistors = append(b.Resistors, r)
	}
}

// resistor reads one and says where its pins stand.
func (p *parser) resistor(n *yaml.Node, r *Resistor) (pins *yaml.Node, ok bool) {
	f := p.mapping(n, "a resistor", "pins", "value", "uncertainty", "k")
	if n.Kind != yaml.MappingNode {
		return n, false
	}
	before := len(p.mistakes)
	pins = p.pins(f, &r.Pins)
	p.ohm(f, "value", "100.003 ohm", &r.Ohm)
	var expanded quantity.Ohm
	at := p.ohm(f, "uncertainty", "5 mohm", &expanded)
	k := p.coverage(f)
	r.U = expanded / quantity.Ohm(k)
	if len(p.mistakes) == before && r.U > coarse*r.Ohm {
		p.wrong(at, "an uncertainty of %v on %v is no calibration; write the certificate's, with its unit",
			expanded, r.Ohm)
	}
	return pins, len(p.mistakes) == before
}

func (p *parser) pins(f fields, to *[2]int) *yaml.Node {
	text, at, ok := p.text(f, "pins", "1 2")
	if !ok {
		return at
	}
	words := strings.Fields(text)
	if len(words) != 2 {
		p.wrong(at, "pins cannot be %q; write two pins, such as 1 2", text)
		return at
	}
	for i, w := range words {
		n, err := strconv.Atoi(w)
		if err != nil || n < 1 || n > maxPin {
			p.wrong(at, "%q is no pin; write a number from 1 to %d", w, maxPin)
			return at
		}
		to[i] = n
	}
	if to[0] == to[1] {
		p.wrong(at, "a resistor needs two different pins")
	}
	return at
}

func (p *parser) ohm(f fields, name, example string, to *quantity.Ohm) *yaml.Node {
	text, at, ok := p.text(f, name, example)
	if !ok {
		return at
	}
	v, err := quantity.ParseOhm(text)
	switch {
	case err != nil:
		p.wrong(at, "%s: %v", name, err)
	case v <= 0 || v > 1e12:
		p.wrong(at, "%s cannot be %v; write a value above 0 ohm, up to 1 Tohm", name, v)
	default:
		*to = v
	}
	return at
}

func (p *parser) coverage(f fields) float64 {
	if _, given := f.value["k"]; !given {
		return usualK
	}
	text, at, ok := p.text(f, "k", "2")
	if !ok {
		return usualK
	}
	k, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(k) || k < 1 || k > 5 {
		p.wrong(at, "k cannot be %q; write the coverage factor of the certificate, 1 to 5", text)
		return usualK
	}
	return k
}

// forest keeps which pins are joined already.
type forest map[int]int

func newForest() forest { return forest{} }

func (f forest) root(pin int) int {
	for next, ok := f[pin]; ok; next, ok = f[pin] {
		pin = next
	}
	return pin
}

// join reports whether it made a way where there was none.
func (f forest) join(a, b int) bool {
	a, b = f.root(a), f.root(b)
	if a == b {
		return false
	}
	f[a] = b
	return true
}
