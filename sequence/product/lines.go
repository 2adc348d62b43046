package product

import (
	"slices"

	"padjig/sequence/fields"
)

// Words that have a meaning of their own where a line's name may stand.
var reserved = []string{"to", "none", "rows", "columns", "row", "column", "-", "--"}

// lineTable numbers the lines: rows, columns, then the others by kind.
type lineTable struct {
	all []Line
	at  []fields.Place // where each is named
}

// readLines reads the lines outside the matrix.
func readLines(o fields.Object, t *lineTable) {
	if !o.Has("matrix") && !o.Has("lines") {
		o.Wrong(o.At, "lines.none")
	}
	others, _ := o.Section("lines", "direct", "common", "shield", "ground")
	for _, kind := range []LineKind{Direct, Common, Shield, Ground} {
		for _, w := range others.List(string(kind)) {
			t.add(o.Collector, w, kind)
		}
	}
	if len(t.all) > MaxLines {
		o.Wrong(t.at[MaxLines], "lines.many", len(t.all), MaxLines)
	}
}

// readAxis reads the rows or the columns of the matrix and gives their numbers.
func readAxis(matrix fields.Object, t *lineTable, name string, kind LineKind, most int) (all []int) {
	if matrix.Missing(name, name+": "+map[LineKind]string{Row: "R1 R2", Column: "C1 C2"}[kind]) {
		return nil
	}
	words := matrix.List(name)
	if len(words) > most {
		matrix.Wrong(words[most].Place, "axis.many", len(words), name, most)
	}
	for _, w := range words {
		if t.add(matrix.Collector, w, kind) {
			all = append(all, len(t.all)-1)
		}
	}
	return all
}

func (t *lineTable) add(c *fields.Collector, w fields.Word, kind LineKind) bool {
	first := lineIndex(t.all, w.Text)
	switch r, odd := fields.Unprintable(w.Text, false); {
	case odd:
		c.Wrong(w.Place, "line.character", w.Text, r)
	case slices.Contains(reserved, w.Text):
		c.Wrong(w.Place, "line.reserved", w.Text)
	case first >= 0:
		c.Wrong(w.Place, "line.twice", w.Text, t.at[first].Line)
	default:
		t.all, t.at = append(t.all, Line{Name: w.Text, Kind: kind}), append(t.at, w.Place)
		return true
	}
	return false
}

// readTail puts the lines on their pins.
func readTail(o fields.Object, t *lineTable) (tail []string) {
	if o.Missing("tail", "tail: R1 R2 C1 C2") {
		return nil
	}
	words := o.List("tail")
	if len(words) == 0 {
		return nil
	}
	if len(words) > MaxPins {
		o.Wrong(words[MaxPins].Place, "tail.many", len(words), MaxPins)
	}
	for i, w := range words {
		tail = append(tail, pin(o.Collector, t.all, i+1, w))
	}
	for i, l := range t.all {
		if l.Pin == 0 {
			o.Wrong(t.at[i], "tail.lacks", l.Name)
		}
	}
	return tail
}

func pin(c *fields.Collector, lines []Line, number int, w fields.Word) string {
	if w.Text == "-" {
		return ""
	}
	i := lineIndex(lines, w.Text)
	switch {
	case i < 0:
		c.Wrong(w.Place, "tail.unknown", number, w.Text, fields.Suggest(w.Text, lineNames(lines)))
		return ""
	case lines[i].Pin > 0:
		c.Wrong(w.Place, "tail.twice", number, w.Text, lines[i].Pin)
		return ""
	}
	lines[i].Pin = number
	return w.Text
}

// unused reports lines that no key joins. A shield must have none; a ground
// may be only a frame.
func unused(c *fields.Collector, t *lineTable, keys []Key) {
	used := make(map[int]bool)
	for _, k := range keys {
		used[k.A], used[k.B] = true, true
	}
	for i, l := range t.all {
		if !used[i] && l.Kind != Shield && l.Kind != Ground {
			c.Wrong(t.at[i], "line.unused", l.Kind, l.Name)
		}
	}
}

func lineIndex(lines []Line, name string) int {
	return slices.IndexFunc(lines, func(l Line) bool { return l.Name == name })
}

func lineNames(lines []Line) []string {
	return fields.Names(lines, func(l Line) string { return l.Name })
}
