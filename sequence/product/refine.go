package product

import (
	"slices"
	"strings"

	yaml "go.yaml.in/yaml/v4"
)

// further reads one entry of the keys section: a key outside the matrix, or
// more about one within it.
func further(f field, all drafts, lines []Line, groups []*group) drafts {
	d := all.find(f.name.text)
	known := d != nil
	if !known {
		d = newDraft(f.name.text, f.name.place, -1, -1)
	}
	d.fields = entry(f)
	d.fields.at = f.name.place
	if stated, ok := d.fields.get("lines"); !known {
		d.join(all, lines)
		all = all.add(f.collector, d)
	} else if ok {
		f.wrong(stated.at(), "key.lines", d.Label)
	}
	d.readDiode(lines)
	d.readSize()
	d.readActuator()
	if w, ok := d.fields.line("group"); ok {
		i := slices.IndexFunc(groups, func(g *group) bool { return g.name.text == w.text })
		if i < 0 {
			f.wrong(w.place, "group.unknown", w.text,
				meant{w.text, namesOf(groups, func(g *group) string { return g.name.text })})
		} else {
			groups[i].enter(d, w.place)
		}
	}
	return all
}

// entry lets "UP: K1 COM" stand for "UP: {lines: K1 COM}".
func entry(f field) object {
	if f.value.Kind == yaml.ScalarNode {
		return object{source: f.source, fields: []field{{f.source, word{"lines", f.at()}, f.value}}}
	}
	return f.object("key "+f.name.text, "lines", "shares", "diode", "group", "at", "size", "width",
		"actuator number", "contact", "limits")
}

// readActuator reads which of the jig's actuators presses the key, from 1 as on the jig's
// plate; in a text that was kept also the field of before, which counted from 0.
func (d *draft) readActuator() {
	if d.fields.has(formerActuator) {
		if !d.fields.kept {
			return // it was refused
		}
		d.fields.whole(formerActuator, 0, MaxKeys-1, &d.Actuator)
	}
	if d.fields.whole("actuator number", 1, MaxKeys, &d.Actuator) {
		d.Actuator--
	}
}

// actuatorAt is where the key states its actuator.
func (d *draft) actuatorAt() (place, bool) {
	f, ok := d.fields.get("actuator number")
	if !ok {
		f, ok = d.fields.get(formerActuator)
	}
	if !ok {
		return place{}, false
	}
	return f.at(), true
}

// join reads the two lines of a key outside the matrix.
func (d *draft) join(all drafts, lines []Line) {
	f, ok := d.fields.get("lines")
	if !ok {
		if near := (meant{d.Label, all.labels()}).nearest(); len(near) > 0 {
			d.fields.wrong(d.at, "key.near", d.Label, strings.Join(near, " or "))
		} else {
			d.fields.wrong(d.at, "key.loose", d.Label)
		}
		return
	}
	d.joined = f.at()
	words := f.words()
	if len(words) == 0 {
		return
	}
	if len(words) != 2 {
		f.wrong(words[0].place, "key.ends", d.Label)
		return
	}
	l, m := d.lineOf(words[0], lines), d.lineOf(words[1], lines)
	switch {
	case l < 0 || m < 0:
	case l == m:
		f.wrong(words[1].place, "key.itself", d.Label, words[1].text)
	default:
		d.A, d.B = min(l, m), max(l, m)
	}
}

func (d *draft) lineOf(w word, lines []Line) int {
	i := lineIndex(lines, w.text)
	switch {
	case i < 0:
		d.fields.wrong(w.place, "key.line", d.Label, w.text, meant{w.text, lineNames(lines)})
	case lines[i].Kind == Shield:
		d.fields.wrong(w.place, "key.shield", d.Label, w.text)
		return -1
	}
	return i
}

// readDiode settles which way the key's series diode conducts, as far as the key says so.
func (d *draft) readDiode(lines []Line) {
	f, ok := d.fields.get("diode")
	if !ok {
		return
	}
	words := f.words()
	switch {
	case len(words) == 1 && words[0].text == "none":
		d.Diode, d.bare = NoDiode, true
	case len(words) == 3 && words[1].text == "to":
		d.Diode = d.direction(words[0], words[2], lines)
	case len(words) > 0:
		f.wrong(words[0].place, "diode", joined(words))
	}
}

func (d *draft) direction(from, to word, lines []Line) Direction {
	if !d.joins() {
		return NoDiode
	}
	a, z := lines[d.A], lines[d.B]
	is := func(w word, l Line) bool { return w.text == l.Name || w.text == string(l.Kind) && a.Kind != z.Kind }
	switch {
	case is(from, a) && is(to, z):
		return AtoB
	case is(from, z) && is(to, a):
		return BtoA
	}
	d.fields.wrong(from.place, "diode.ends", d.Label, a.Name, z.Name)
	return NoDiode
}

// matrixDiodes gives the keys of the matrix the diode that the matrix states.
func (all drafts) matrixDiodes(matrix object) {
	dir := map[string]Direction{"row to column": AtoB, "column to row": BtoA}[matrix.choice("diodes",
		"none", "row to column", "column to row")]
	for _, d := range all {
		if d.inMatrix() && !d.bare && d.Diode == NoDiode {
			d.Diode = dir
		}
	}
}

func (d *draft) readSize() {
	const least, most = 0.25, 32
	wide := d.fields.numbers("width", least, most, &d.W)
	if both := d.fields.numbers("size", least, most, &d.W, &d.H); both && wide {
		f, _ := d.fields.get("width")
		f.wrong(f.words()[0].place, "key.sizes", d.Label)
	}
	d.placed = d.fields.numbers("at", 0, 64, &d.X, &d.Y)
}

// group is a set of keys with limits of their own.
type group struct {
	name   word
	fields object
	limits Limits
	keys   int
}

func readGroups(o object) (all []*group) {
	section, _ := o.section("groups")
	for _, f := range section.fields {
		all = append(all, &group{name: f.name, fields: f.object("group "+f.name.text, "keys", "limits", "contact")})
		if r, odd := unprintable(f.name.text, false); odd {
			f.wrong(f.name.place, "group.character", f.name.text, r)
		}
	}
	return all
}

func (g *group) enter(d *draft, at place) {
	if d.group != nil && d.group != g {
		g.fields.wrong(at, "group.second", d.Label, d.group.name.text)
		return
	}
	d.group, d.Group = g, g.name.text
	g.keys++
}

// listMembers enters the keys that groups list themselves.
func listMembers(groups []*group, all drafts) {
	for _, g := range groups {
		for _, w := range g.fields.list("keys") {
			if d := all.find(w.text); d != nil {
				g.enter(d, w.place)
				continue
			}
			g.fields.wrong(w.place, "group.key", g.name.text, w.text, meant{w.text, all.labels()})
		}
		if g.keys == 0 && !g.fields.has("keys") {
			g.fields.wrong(g.name.place, "group.empty", g.name.text)
		}
	}
}
