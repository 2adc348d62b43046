package product

import "slices"

// Words that have a meaning of their own where a line's name may stand.
var reserved = []string{"to", "none", "rows", "columns", "row", "column", "-", "--"}

// lineTable numbers the lines: rows, columns, then the others by kind.
type lineTable struct {
	all []Line
	at  []place // where each is named
}

// readLines reads the lines outside the matrix.
func readLines(o object, t *lineTable) {
	if !o.has("matrix") && !o.has("lines") {
		o.wrong(o.at, "lines.none")
	}
	others, _ := o.section("lines", "direct", "common", "shield", "ground")
	for _, kind := range []LineKind{Direct, Common, Shield, Ground} {
		for _, w := range others.list(string(kind)) {
			t.add(o.collector, w, kind)
		}
	}
	if len(t.all) > MaxLines {
		o.wrong(t.at[MaxLines], "lines.many", len(t.all), MaxLines)
	}
}

// readAxis reads the rows or the columns of the matrix and gives their numbers.
func readAxis(matrix object, t *lineTable, name string, kind LineKind, most int) (all []int) {
	if matrix.missing(name, name+": "+map[LineKind]string{Row: "R1 R2", Column: "C1 C2"}[kind]) {
		return nil
	}
	words := matrix.list(name)
	if len(words) > most {
		matrix.wrong(words[most].place, "axis.many", len(words), name, most)
	}
	for _, w := range words {
		if t.add(matrix.collector, w, kind) {
			all = append(all, len(t.all)-1)
		}
	}
	return all
}

func (t *lineTable) add(c *collector, w word, kind LineKind) bool {
	first := lineIndex(t.all, w.text)
	switch r, odd := unprintable(w.text, false); {
	case odd:
		c.wrong(w.place, "line.character", w.text, r)
	case slices.Contains(reserved, w.text):
		c.wrong(w.place, "line.reserved", w.text)
	case first >= 0:
		c.wrong(w.place, "line.twice", w.text, t.at[first].line)
	default:
		t.all, t.at = append(t.all, Line{Name: w.text, Kind: kind}), append(t.at, w.place)
		return true
	}
	return false
}

// readTail puts the lines on their pins.
func readTail(o object, t *lineTable) (tail []string) {
	if o.missing("tail", "tail: R1 R2 C1 C2") {
		return nil
	}
	words := o.list("tail")
	if len(words) == 0 {
		return nil
	}
	if len(words) > MaxPins {
		o.wrong(words[MaxPins].place, "tail.many", len(words), MaxPins)
	}
	for i, w := range words {
		tail = append(tail, pin(o.collector, t.all, i+1, w))
	}
	for i, l := range t.all {
		if l.Pin == 0 {
			o.wrong(t.at[i], "tail.lacks", l.Name)
		}
	}
	return tail
}

func pin(c *collector, lines []Line, number int, w word) string {
	if w.text == "-" {
		return ""
	}
	i := lineIndex(lines, w.text)
	switch {
	case i < 0:
		c.wrong(w.place, "tail.unknown", number, w.text, meant{w.text, lineNames(lines)})
		return ""
	case lines[i].Pin > 0:
		c.wrong(w.place, "tail.twice", number, w.text, lines[i].Pin)
		return ""
	}
	lines[i].Pin = number
	return w.text
}

// unused reports lines that no key joins. A shield must have none; a ground
// may be only a frame.
func unused(c *collector, t *lineTable, keys []Key) {
	used := make(map[int]bool)
	for _, k := range keys {
		used[k.A], used[k.B] = true, true
	}
	for i, l := range t.all {
		if !used[i] && l.Kind != Shield && l.Kind != Ground {
			c.wrong(t.at[i], "line.unused", l.Kind, l.Name)
		}
	}
}

func lineIndex(lines []Line, name string) int {
	return slices.IndexFunc(lines, func(l Line) bool { return l.Name == name })
}

func lineNames(lines []Line) []string {
	return namesOf(lines, func(l Line) string { return l.Name })
}
