package product

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"padjig/sequence/fields"
)

// empty is how a crossing without a key is written.
const empty = "--"

// longest is a label that still fits a line of a report; a narrow key shows less of it.
const longest = 24

// draft is a key as far as it has been read.
type draft struct {
	*Key   // of its own until the keys are settled, then the product's
	at     fields.Place
	fields fields.Object // what the file's keys section says of it
	joined fields.Place  // where its lines are stated

	row, column int // crossing in the matrix, -1 for a key outside it
	slot, slots int // which of several keys on one crossing
	placed      bool
	bare        bool // diode: none
	group       *group
}

func newDraft(label string, at fields.Place, a, b int) *draft {
	return &draft{Key: &Key{Label: label, A: a, B: b, W: 1, H: 1, Actuator: -1}, at: at, row: -1, column: -1}
}

func (d *draft) inMatrix() bool { return d.row >= 0 }
func (d *draft) joins() bool    { return d.A >= 0 && d.B >= 0 }

type drafts []*draft

func (all drafts) find(label string) *draft {
	for _, d := range all {
		if d.Label == label {
			return d
		}
	}
	return nil
}

func (all drafts) labels() []string {
	return fields.Names(all, func(d *draft) string { return d.Label })
}

func keyLabels(keys []Key) []string { return fields.Names(keys, func(k Key) string { return k.Label }) }

// hasRectangles reports whether the matrix has diodes and room for a rectangle.
func (all drafts) hasRectangles(p *Product) bool {
	diodes := slices.ContainsFunc(all, func(d *draft) bool { return d.inMatrix() && d.Diode != NoDiode })
	return diodes && len(p.Rows) > 1 && len(p.Columns) > 1
}

// readKeys reads the matrix and then the section of further keys and refinements.
func readKeys(o, matrix fields.Object, p *Product) (all drafts, groups []*group) {
	if len(p.Rows)+len(p.Columns) > 0 && !matrix.Missing("keys", "keys: | with a row of labels to each line") {
		all = readGrid(matrix, p)
	}
	more, _ := o.Section("keys")
	groups = readGroups(o)
	for _, f := range more.Fields {
		all = further(f, all, p.Lines, groups)
	}
	switch n := len(all); {
	case n == 0 && o.Sound():
		o.Wrong(o.At, "keys.none")
	case n > MaxKeys:
		o.Wrong(all[MaxKeys].at, "keys.many", n, MaxKeys)
	}
	return all, groups
}

func readGrid(matrix fields.Object, p *Product) (all drafts) {
	f, _ := matrix.Get("keys")
	grid := rowsOf(f.Words())
	if n := len(grid); n > 0 && n < len(p.Rows) {
		f.Wrong(f.At(), "grid.short", n, len(p.Rows))
	}
	for r, words := range grid {
		if r >= len(p.Rows) {
			f.Wrong(words[0].Place, "grid.long", r+1)
			continue
		}
		all = gridRow(f.Collector, all, words, r, p)
	}
	return all
}

func rowsOf(words []fields.Word) (rows [][]fields.Word) {
	for _, w := range words {
		if n := len(rows); n == 0 || rows[n-1][0].Line != w.Line {
			rows = append(rows, nil)
		}
		rows[len(rows)-1] = append(rows[len(rows)-1], w)
	}
	return rows
}

func gridRow(c *fields.Collector, all drafts, words []fields.Word, row int, p *Product) drafts {
	n, columns := len(words), len(p.Columns)
	name := p.Lines[p.Rows[row]].Name
	switch {
	case n > columns && strings.HasPrefix(words[columns].Text, "#"):
		c.Wrong(words[columns].Place, "row.remark", name, n, columns)
	case n > columns:
		c.Wrong(words[columns].Place, "row.long", name, n, columns)
	case n < columns:
		c.Wrong(words[0].Place, "row.short", name, n, columns)
	}
	for column, w := range words[:min(columns, n)] {
		if w.Text != empty {
			all = crossing(c, all, w, row, column, p)
		}
	}
	return all
}

// crossing adds the key, or the keys with & between them, of one crossing.
func crossing(c *fields.Collector, all drafts, w fields.Word, row, column int, p *Product) drafts {
	labels := []string{w.Text}
	if w.Text != "&" {
		labels = strings.Split(w.Text, "&")
	}
	at := w.Place
	for i, label := range labels {
		d := newDraft(label, at, p.Rows[row], p.Columns[column])
		d.joined, d.row, d.column, d.slot, d.slots = w.Place, row, column, i, len(labels)
		all = all.add(c, d)
		at.Column += utf8.RuneCountInString(label) + 1
	}
	return all
}

func (all drafts) add(c *fields.Collector, d *draft) drafts {
	first := all.find(d.Label)
	switch r, odd := fields.Unprintable(d.Label, false); {
	case odd:
		c.Wrong(d.at, "key.character", d.Label, r)
	case d.Label == "":
		c.Wrong(d.at, "key.unnamed")
	case d.Label == empty, d.Label != "&" && strings.Contains(d.Label, "&"):
		c.Wrong(d.at, "key.reserved", d.Label)
	case utf8.RuneCountInString(d.Label) > longest:
		c.Wrong(d.at, "key.long", d.Label, longest)
	case first != nil:
		c.Wrong(d.at, "key.twice", d.Label, first.at.Line, first.at.Column)
	default:
		return append(all, d)
	}
	return all
}

// settle orders the keys, and what depends on their numbers. From then on each draft is the
// product's key.
func (all drafts) settle(matrix fields.Object, lines []Line, groups []*group) []Key {
	// The order of fields in the file carries no meaning, so keys outside the
	// matrix are numbered by the lines they join.
	slices.SortStableFunc(all, func(d, e *draft) int {
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
	all.matrixDiodes(matrix)
	listMembers(groups, all)
	all.shared(matrix.Collector, lines)
	all.actuators(matrix.Collector)
	keys := make([]Key, len(all))
	for i, d := range all {
		keys[i] = *d.Key
		d.Key = &keys[i]
	}
	return keys
}

// shared holds two keys on one crossing to having been declared so.
func (all drafts) shared(c *fields.Collector, lines []Line) {
	first := make(map[[2]int]*draft)
	for _, d := range all {
		if !d.joins() {
			continue
		}
		before, taken := first[[2]int{d.A, d.B}]
		first[[2]int{d.A, d.B}] = d
		if w, ok := d.fields.Line("shares"); ok {
			d.checkShare(w, all)
		} else if taken && d.slot == 0 && !before.declares(d) {
			c.Wrong(d.joined, "key.shares", d.Label, lines[d.A].Name, lines[d.B].Name, before.Label)
		}
	}
}

func (d *draft) declares(other *draft) bool {
	f, ok := d.fields.Get("shares")
	return ok && f.Value.Value == other.Label
}

func (d *draft) checkShare(w fields.Word, all drafts) {
	other := all.find(w.Text)
	switch {
	case other == nil || other == d:
		d.fields.Wrong(w.Place, "shares.unknown", d.Label, w.Text, fields.Suggest(w.Text, without(all.labels(), d.Label)))
	case other.joins() && (other.A != d.A || other.B != d.B):
		d.fields.Wrong(w.Place, "shares.elsewhere", d.Label, other.Label)
	}
}

func without(all []string, one string) []string {
	return slices.DeleteFunc(all, func(s string) bool { return s == one })
}

func (all drafts) actuators(c *fields.Collector) {
	owner := make(map[int]*draft)
	for i, d := range all {
		if d.Actuator < 0 {
			d.Actuator = i
		}
		if other, taken := owner[d.Actuator]; taken {
			at, ok := d.actuatorAt()
			if !ok {
				at, _ = other.actuatorAt()
			}
			c.Wrong(at, "actuator.twice", other.Label, d.Label, d.Actuator+1)
		}
		owner[d.Actuator] = d
	}
}
