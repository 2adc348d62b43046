package product

import (
	"strconv"
	"strings"

	yaml "go.yaml.in/yaml/v4"
)

// further reads one entry of the keys section: a key outside the matrix, or
// more about one within it.
func (b *builder) further(f field) {
	d := b.draft(f.name.text)
	isNew := d == nil
	if isNew {
		d = &draft{at: f.name.place, row: -1, column: -1, Key: Key{Label: f.name.text, A: -1, B: -1, W: 1,
			H: 1, Actuator: -1}}
	}
	d.fields = b.entry(f)
	d.fields.at = f.name.place
	if isNew {
		b.join(d)
		b.add(d)
	} else if lines, ok := d.fields.get("lines"); ok {
		b.wrong(lines.at(), "key %q has its lines from its place in the matrix; take lines out", d.Label)
	}
	b.diode(d)
	b.size(d)
	b.actuator(d)
	b.joinGroup(d)
}

// entry lets "UP: K1 COM" stand for "UP: {lines: K1 COM}".
func (b *builder) entry(f field) object {
	if f.value.Kind == yaml.ScalarNode {
		return object{fields: []field{{word{"lines", f.at()}, f.value}}}
	}
	return b.object(f.value, "key "+f.name.text, "lines", "shares", "diode", "group", "at", "size", "width",
		"actuator number", formerActuator, "contact", "limits")
}

// formerActuator is what the field "actuator number" was when it counted from 0.
const formerActuator = "actuator"

// actuator reads which of the jig's actuators presses the key, from 1 as on the jig's
// plate. The field of before counted from 0. It had another name, so that no file of
// before means another actuator now: it is refused, and read only in a text that was kept.
func (b *builder) actuator(d *draft) {
	if f, old := d.fields.get(formerActuator); old && !b.kept {
		number := "N"
		if n, err := strconv.Atoi(f.value.Value); err == nil && n >= 0 {
			number = strconv.Itoa(n + 1)
		}
		b.wrong(f.name.place, `"actuator" of key %q counted from 0; write "actuator number: %s", `+
			"which counts from 1 as on the jig's plate", d.Label, number)
		return
	}
	b.whole(d.fields, formerActuator, 0, MaxKeys-1, &d.Actuator)
	if _, ok := b.whole(d.fields, "actuator number", 1, MaxKeys, &d.Actuator); ok {
		d.Actuator--
	}
}

// join reads the two lines of a key outside the matrix.
func (b *builder) join(d *draft) {
	f, ok := d.fields.get("lines")
	if !ok {
		hint := `add its two lines, as in "lines: K1 COM"`
		if near := nearest(d.Label, b.labels()); len(near) > 0 {
			hint = "did you mean " + strings.Join(near, " or ") + "? Otherwise " + hint
		}
		b.wrong(d.at, "key %q is not in the matrix; %s", d.Label, hint)
		return
	}
	d.joined = f.at()
	words := b.words(f)
	if len(words) == 0 {
		return
	}
	if len(words) != 2 {
		b.wrong(words[0].place, `key %q joins two lines; write them like "K1 COM"`, d.Label)
		return
	}
	l, m := b.lineOf(d, words[0]), b.lineOf(d, words[1])
	switch {
	case l < 0 || m < 0:
		return
	case l == m:
		b.wrong(words[1].place, "key %q joins line %q to itself; name the other line", d.Label, words[1].text)
		return
	}
	d.A, d.B = min(l, m), max(l, m)
}

func (b *builder) lineOf(d *draft, w word) int {
	i := b.p.Line(w.text)
	switch {
	case i < 0:
		b.wrong(w.place, "key %q is on line %q, which does not exist%s", d.Label, w.text,
			didYouMean(w.text, b.lineNames()))
	case b.p.Lines[i].Kind == Shield:
		b.wrong(w.place, "key %q is on shield %q, which must show nothing at all; if it carries a key, "+
			"list it under ground or common", d.Label, w.text)
		return -1
	}
	return i
}

// diode settles which way the key's series diode conducts, from the key or,
// for keys of the matrix, from the matrix as a whole.
func (b *builder) diode(d *draft) {
	f, ok := d.fields.get("diode")
	if !ok {
		return
	}
	words := b.words(f)
	switch {
	case len(words) == 1 && words[0].text == "none":
		d.Diode, d.bare = NoDiode, true
	case len(words) == 3 && words[1].text == "to":
		d.Diode = b.direction(d, words[0], words[2])
	case len(words) > 0:
		b.wrong(words[0].place, `diode cannot be %q; write "none" or the way current flows, as in "R1 to `+
			`C1"`, joined(words))
	}
}

func (b *builder) direction(d *draft, from, to word) Direction {
	if !d.sound() {
		return NoDiode
	}
	a, z := b.p.Lines[d.A], b.p.Lines[d.B]
	is := func(w word, l Line) bool { return w.text == l.Name || w.text == string(l.Kind) && a.Kind != z.Kind }
	switch {
	case is(from, a) && is(to, z):
		return AtoB
	case is(from, z) && is(to, a):
		return BtoA
	}
	b.wrong(from.place, `diode of key %q: write "%s to %s" or "%s to %s", the way current flows`, d.Label,
		a.Name, z.Name, z.Name, a.Name)
	return NoDiode
}

// matrixDiodes gives the keys of the matrix the diode that the matrix states.
func (b *builder) matrixDiodes() {
	dir := NoDiode
	switch b.choice(b.matrix, "diodes", "none", "row to column", "column to row") {
	case "row to column":
		dir = AtoB
	case "column to row":
		dir = BtoA
	}
	for _, d := range b.drafts {
		if d.inMatrix() && !d.bare && d.Diode == NoDiode {
			d.Diode = dir
		}
	}
}

func (b *builder) size(d *draft) {
	const least, most = 0.25, 32
	width, wide := b.numbers(d.fields, "width", least, most, &d.W)
	if _, both := b.numbers(d.fields, "size", least, most, &d.W, &d.H); both && wide {
		b.wrong(width, "key %q has width and size; keep one of them", d.Label)
	}
	_, d.placed = b.numbers(d.fields, "at", 0, 64, &d.X, &d.Y)
}

// group is a set of keys with limits of their own.
type group struct {
	name   word
	fields object
	sheet  sheet
	keys   int
}

func (b *builder) readGroups(o object) {
	section, _ := b.section(o, "groups")
	for _, f := range section.fields {
		g := &group{name: f.name, fields: b.object(f.value, "group "+f.name.text, "keys", "limits", "contact")}
		if r, odd := unprintable(f.name.text, false); odd {
			b.wrong(f.name.place, "group name %q holds the character %U; write it without spaces",
				f.name.text, r)
		}
		b.groups = append(b.groups, g)
	}
}

func (b *builder) joinGroup(d *draft) {
	w, ok := b.line(d.fields, "group")
	if !ok {
		return
	}
	var names []string
	for _, g := range b.groups {
		if g.name.text == w.text {
			b.enter(d, g, w.place)
			return
		}
		names = append(names, g.name.text)
	}
	b.wrong(w.place, `no group %q under groups, where it must be added%s`, w.text, didYouMean(w.text, names))
}

func (b *builder) enter(d *draft, g *group, at place) {
	if d.group != nil && d.group != g {
		b.wrong(at, "key %q is in group %q already; a key is in one group at most", d.Label, d.group.name.text)
		return
	}
	d.group, d.Group = g, g.name.text
	g.keys++
}

// groupKeys enters the keys that a group lists itself.
func (b *builder) groupKeys() {
	for _, g := range b.groups {
		for _, w := range b.list(g.fields, "keys") {
			if d := b.draft(w.text); d != nil {
				b.enter(d, g, w.place)
				continue
			}
			b.wrong(w.place, "group %q: no key %q%s", g.name.text, w.text, didYouMean(w.text, b.labels()))
		}
		if _, lists := g.fields.get("keys"); g.keys == 0 && !lists {
			b.wrong(g.name.place, `group %q has no key; add "keys: LABEL LABEL" or take it out`, g.name.text)
		}
	}
}
