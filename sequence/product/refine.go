package product

import (
	"slices"
	"strings"

	"padjig/sequence/fields"
)

// further reads one entry of the keys section: a key outside the matrix, or
// more about one within it.
func further(f fields.Field, all drafts, lines []Line, groups []*group) drafts {
	d := all.find(f.Name.Text)
	known := d != nil
	if !known {
		d = newDraft(f.Name.Text, f.Name.Place, -1, -1)
	}
	d.fields = entry(f)
	d.fields.At = f.Name.Place
	if stated, ok := d.fields.Get("lines"); !known {
		d.join(all, lines)
		all = all.add(f.Collector, d)
	} else if ok {
		f.Wrong(stated.At(), "key.lines", d.Label)
	}
	d.readDiode(lines)
	d.readSize()
	d.readActuator()
	if w, ok := d.fields.Line("group"); ok {
		i := slices.IndexFunc(groups, func(g *group) bool { return g.name.Text == w.Text })
		if i < 0 {
			f.Wrong(w.Place, "group.unknown", w.Text,
				fields.Suggest(w.Text, fields.Names(groups, func(g *group) string { return g.name.Text })))
		} else {
			groups[i].enter(d, w.Place)
		}
	}
	return all
}

// entry lets "UP: K1 COM" stand for "UP: {lines: K1 COM}".
func entry(f fields.Field) fields.Object {
	if f.IsText() {
		return f.As("lines")
	}
	return f.Object("key "+f.Name.Text, "lines", "shares", "diode", "group", "at", "size", "width",
		actuatorNumber, "contact", "limits")
}

// The field of a key's actuator, and what it was when it counted from 0.
const actuatorNumber, formerActuator = "actuator number", "actuator"

// readActuator reads which of the jig's actuators presses the key, from 1 as on the jig's
// plate; in a text that was kept also the field of before, which counted from 0.
func (d *draft) readActuator() {
	if d.fields.Has(formerActuator) {
		if !d.fields.Kept {
			return // it was refused
		}
		d.fields.Whole(formerActuator, 0, MaxKeys-1, &d.Actuator)
	}
	if d.fields.Whole(actuatorNumber, 1, MaxKeys, &d.Actuator) {
		d.Actuator--
	}
}

// actuatorAt is where the key states its actuator.
func (d *draft) actuatorAt() (fields.Place, bool) {
	f, ok := d.fields.Get(actuatorNumber)
	if !ok {
		f, ok = d.fields.Get(formerActuator)
	}
	if !ok {
		return fields.Place{}, false
	}
	return f.At(), true
}

// join reads the two lines of a key outside the matrix.
func (d *draft) join(all drafts, lines []Line) {
	f, ok := d.fields.Get("lines")
	if !ok {
		if near := fields.Suggest(d.Label, all.labels()).Nearest(); len(near) > 0 {
			d.fields.Wrong(d.at, "key.near", d.Label, strings.Join(near, " or "))
		} else {
			d.fields.Wrong(d.at, "key.loose", d.Label)
		}
		return
	}
	d.joined = f.At()
	words := f.Words()
	if len(words) == 0 {
		return
	}
	if len(words) != 2 {
		f.Wrong(words[0].Place, "key.ends", d.Label)
		return
	}
	l, m := d.lineOf(words[0], lines), d.lineOf(words[1], lines)
	switch {
	case l < 0 || m < 0:
	case l == m:
		f.Wrong(words[1].Place, "key.itself", d.Label, words[1].Text)
	default:
		d.A, d.B = min(l, m), max(l, m)
	}
}

func (d *draft) lineOf(w fields.Word, lines []Line) int {
	i := lineIndex(lines, w.Text)
	switch {
	case i < 0:
		d.fields.Wrong(w.Place, "key.line", d.Label, w.Text, fields.Suggest(w.Text, lineNames(lines)))
	case lines[i].Kind == Shield:
		d.fields.Wrong(w.Place, "key.shield", d.Label, w.Text)
		return -1
	}
	return i
}

// readDiode settles which way the key's series diode conducts, as far as the key says so.
func (d *draft) readDiode(lines []Line) {
	f, ok := d.fields.Get("diode")
	if !ok {
		return
	}
	words := f.Words()
	switch {
	case len(words) == 1 && words[0].Text == "none":
		d.Diode, d.bare = NoDiode, true
	case len(words) == 3 && words[1].Text == "to":
		d.Diode = d.direction(words[0], words[2], lines)
	case len(words) > 0:
		f.Wrong(words[0].Place, "diode", fields.Joined(words))
	}
}

func (d *draft) direction(from, to fields.Word, lines []Line) Direction {
	if !d.joins() {
		return NoDiode
	}
	a, z := lines[d.A], lines[d.B]
	is := func(w fields.Word, l Line) bool {
		return w.Text == l.Name || w.Text == string(l.Kind) && a.Kind != z.Kind
	}
	switch {
	case is(from, a) && is(to, z):
		return AtoB
	case is(from, z) && is(to, a):
		return BtoA
	}
	d.fields.Wrong(from.Place, "diode.ends", d.Label, a.Name, z.Name)
	return NoDiode
}

// matrixDiodes gives the keys of the matrix the diode that the matrix states.
func (all drafts) matrixDiodes(matrix fields.Object) {
	dir := map[string]Direction{"row to column": AtoB, "column to row": BtoA}[matrix.Choice("diodes",
		"none", "row to column", "column to row")]
	for _, d := range all {
		if d.inMatrix() && !d.bare && d.Diode == NoDiode {
			d.Diode = dir
		}
	}
}

func (d *draft) readSize() {
	const least, most = 0.25, 32
	wide := d.fields.Numbers("width", least, most, &d.W)
	if both := d.fields.Numbers("size", least, most, &d.W, &d.H); both && wide {
		f, _ := d.fields.Get("width")
		f.Wrong(f.Words()[0].Place, "key.sizes", d.Label)
	}
	d.placed = d.fields.Numbers("at", 0, 64, &d.X, &d.Y)
}

// group is a set of keys with limits of their own.
type group struct {
	name   fields.Word
	fields fields.Object
	limits Limits
	keys   int
}

func readGroups(o fields.Object) (all []*group) {
	section, _ := o.Section("groups")
	for _, f := range section.Fields {
		all = append(all, &group{name: f.Name, fields: f.Object("group "+f.Name.Text, "keys", "limits", "contact")})
		if r, odd := fields.Unprintable(f.Name.Text, false); odd {
			f.Wrong(f.Name.Place, "group.character", f.Name.Text, r)
		}
	}
	return all
}

func (g *group) enter(d *draft, at fields.Place) {
	if d.group != nil && d.group != g {
		g.fields.Wrong(at, "group.second", d.Label, d.group.name.Text)
		return
	}
	d.group, d.Group = g, g.name.Text
	g.keys++
}

// listMembers enters the keys that groups list themselves.
func listMembers(groups []*group, all drafts) {
	for _, g := range groups {
		for _, w := range g.fields.List("keys") {
			if d := all.find(w.Text); d != nil {
				g.enter(d, w.Place)
				continue
			}
			g.fields.Wrong(w.Place, "group.key", g.name.Text, w.Text, fields.Suggest(w.Text, all.labels()))
		}
		if g.keys == 0 && !g.fields.Has("keys") {
			g.fields.Wrong(g.name.Place, "group.empty", g.name.Text)
		}
	}
}
