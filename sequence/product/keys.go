package product

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"
)

// empty is how a crossing without a key is written.
const empty = "--"

// longest is a label that still fits a line of a report; a narrow key shows less of it.
const longest = 24

// draft is a key as far as it has been read.
type draft struct {
	Key
	at     place
	fields object // what the file's keys section says of it
	joined place  // where its lines are stated

	row, column int // crossing in the matrix, -1 for a key outside it
	slot, slots int // which of several keys on one crossing
	placed      bool
	bare        bool // diode: none
	group       *group
}

func (d *draft) inMatrix() bool { return d.row >= 0 }
func (d *draft) sound() bool    { return d.A >= 0 && d.B >= 0 }

// keys reads the matrix and then the section of further keys and refinements.
func (b *builder) keys(o object) {
	if len(b.p.Rows)+len(b.p.Columns) > 0 && !b.missing(b.matrix, "keys",
		"keys: | with a row of labels to each line") {
		b.readGrid()
	}
	more, _ := b.section(o, "keys")
	b.readGroups(o)
	for _, f := range more.fields {
		b.further(f)
	}
	switch n := len(b.drafts); {
	case n == 0 && b.sound():
		b.wrong(o.at, `no keys; add them to the matrix or under keys, as in "UP: K1 COM"`)
	case n > MaxKeys:
		b.wrong(b.drafts[MaxKeys].at, "%d keys; a product has %d at most", n, MaxKeys)
	}
}

func (b *builder) readGrid() {
	f, _ := b.matrix.get("keys")
	grid := rowsOf(b.words(f))
	if len(grid) == 0 {
		return
	}
	if n := len(grid); n < len(b.p.Rows) {
		b.wrong(f.at(), `the grid has %d rows of keys for %d row lines; write a row for each, "--" where `+
			`there is no key`,
			n, len(b.p.Rows))
	}
	for r, words := range grid {
		if r >= len(b.p.Rows) {
			b.wrong(words[0].place, "row %d of the grid has no row line; name one more in rows, or take "+
				"it out", r+1)
			continue
		}
		b.gridRow(r, words)
	}
}

func rowsOf(words []word) [][]word {
	var rows [][]word
	for _, w := range words {
		if n := len(rows); n == 0 || rows[n-1][0].line != w.line {
			rows = append(rows, nil)
		}
		rows[len(rows)-1] = append(rows[len(rows)-1], w)
	}
	return rows
}

func (b *builder) gridRow(r int, words []word) {
	columns := len(b.p.Columns)
	name := b.p.Lines[b.p.Rows[r]].Name
	switch {
	case len(words) > columns && strings.HasPrefix(words[columns].text, "#"):
		b.wrong(words[columns].place, "row %s has %d crossings for %d columns; a remark cannot stand "+
			"inside the grid, so move it above", name, len(words), columns)
	case len(words) > columns:
		b.wrong(words[columns].place, "row %s has %d crossings for %d columns; take out or name the "+
			"columns, and write several keys on one crossing as A&B", name, len(words), columns)
	case len(words) < columns:
		b.wrong(words[0].place, `row %s has %d crossings for %d columns; write "--" where there is no key`,
			name, len(words), columns)
	}
	for c, w := range words[:min(columns, len(words))] {
		if w.text != empty {
			b.crossing(r, c, w)
		}
	}
}

// crossing adds the key, or the keys with & between them, of one crossing.
func (b *builder) crossing(r, c int, w word) {
	labels := []string{w.text}
	if w.text != "&" {
		labels = strings.Split(w.text, "&")
	}
	at := w.place
	for i, label := range labels {
		d := &draft{at: at, joined: w.place, row: r, column: c, slot: i, slots: len(labels)}
		d.Key = Key{Label: label, A: b.p.Rows[r], B: b.p.Columns[c], W: 1, H: 1, Actuator: -1}
		b.add(d)
		at.column += utf8.RuneCountInString(label) + 1
	}
}

func (b *builder) draft(label string) *draft {
	for _, d := range b.drafts {
		if d.Label == label {
			return d
		}
	}
	return nil
}

func (b *builder) labels() []string {
	all := make([]string, len(b.drafts))
	for i, d := range b.drafts {
		all[i] = d.Label
	}
	return all
}

func (b *builder) add(d *draft) {
	switch r, odd := unprintable(d.Label, false); {
	case odd:
		b.wrong(d.at, "key label %q holds the character %U; write letters, digits and signs, no spaces",
			d.Label, r)
	case d.Label == "":
		b.wrong(d.at, `a key between & signs has no label; write A&B, or "--" for no key`)
	case d.Label == empty, d.Label != "&" && strings.Contains(d.Label, "&"):
		b.wrong(d.at, `%q cannot be a key label: "--" is an empty crossing and & stands between keys`, d.Label)
	case utf8.RuneCountInString(d.Label) > longest:
		b.wrong(d.at, "key label %q is too long; write %d characters at most", d.Label, longest)
	default:
		if first := b.draft(d.Label); first != nil {
			b.wrong(d.at, "key %q is there already (line %d, column %d); give each key its own label",
				d.Label, first.at.line, first.at.column)
			return
		}
		b.drafts = append(b.drafts, d)
	}
}

// finish orders the keys and settles what depends on their numbers.
func (b *builder) finish() {
	// The order of fields in the file carries no meaning, so keys outside the
	// matrix are numbered by the lines they join.
	slices.SortStableFunc(b.drafts, func(d, e *draft) int {
		switch {
		case d.inMatrix() && e.inMatrix():
			return 0
		case d.inMatrix():
			return -1
		case e.inMatrix():
			return 1
		}
		return cmp.Or(cmp.Compare(d.A, e.A), cmp.Compare(d.B, e.B), strings.Compare(d.Label, e.Label))
	})
	b.matrixDiodes()
	b.groupKeys()
	b.shared()
	b.actuators()
	b.unused()
	for _, d := range b.drafts {
		b.p.Keys = append(b.p.Keys, d.Key)
	}
}

// shared holds two keys on one crossing to having been declared so.
func (b *builder) shared() {
	first := make(map[[2]int]*draft)
	for _, d := range b.drafts {
		if !d.sound() {
			continue
		}
		lines := [2]int{d.A, d.B}
		before, taken := first[lines]
		first[lines] = d
		if w, ok := b.line(d.fields, "shares"); ok {
			b.checkShare(d, w)
			continue
		}
		if taken && d.slot == 0 && !b.declares(before, d) {
			b.wrong(d.joined, "key %q joins %s and %s as key %q does; "+
				`if both are meant to sit on one crossing, add "shares: %s" to it`,
				d.Label, b.p.Lines[d.A].Name, b.p.Lines[d.B].Name, before.Label, before.Label)
		}
	}
}

func (b *builder) declares(d, other *draft) bool {
	f, ok := d.fields.get("shares")
	return ok && f.value.Value == other.Label
}

func (b *builder) checkShare(d *draft, w word) {
	other := b.draft(w.text)
	switch {
	case other == nil || other == d:
		b.wrong(w.place, "key %q shares its crossing with %q, which is no other key%s", d.Label, w.text,
			didYouMean(w.text, without(b.labels(), d.Label)))
	case other.sound() && (other.A != d.A || other.B != d.B):
		b.wrong(w.place, "keys %q and %q are on different crossings; take shares out", d.Label, other.Label)
	}
}

func without(all []string, one string) []string {
	return slices.DeleteFunc(all, func(s string) bool { return s == one })
}

func (b *builder) actuators() {
	owner := make(map[int]*draft)
	for i, d := range b.drafts {
		if d.Actuator < 0 {
			d.Actuator = i
		}
		if other, taken := owner[d.Actuator]; taken {
			b.wrong(b.actuatorAt(d, other), "keys %q and %q are both on actuator number %d; give each its own "+
				"(a key's own number is its place in the order of keys)", other.Label, d.Label, d.Actuator+1)
		}
		owner[d.Actuator] = d
	}
}

// actuatorAt is where the first of the keys that states its actuator does so.
func (b *builder) actuatorAt(keys ...*draft) place {
	for _, d := range keys {
		for _, name := range []string{"actuator number", formerActuator} {
			if f, ok := d.fields.get(name); ok {
				return f.at()
			}
		}
	}
	return place{}
}

// unused reports lines that no key joins. A shield must have none; a ground
// may be only a frame.
func (b *builder) unused() {
	if !b.sound() {
		return // a key that could not be read would be blamed on its line
	}
	used := make(map[int]bool)
	for _, d := range b.drafts {
		used[d.A], used[d.B] = true, true
	}
	for i, l := range b.p.Lines {
		if !used[i] && l.Kind != Shield && l.Kind != Ground {
			b.wrong(b.lineAt[i], "no key on %s line %q; add one, take the line out, or make it a shield",
				l.Kind, l.Name)
		}
	}
}
