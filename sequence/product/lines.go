package product

import "slices"

// Words that have a meaning of their own where a line's name may stand.
var reserved = []string{"to", "none", "rows", "columns", "row", "column"}

// lines numbers the lines: rows, columns, then the others by kind.
func (b *builder) lines(o object) {
	_, hasMatrix := o.get("matrix")
	_, hasLines := o.get("lines")
	if !hasMatrix && !hasLines {
		b.wrong(o.at, "no lines; add a matrix of rows, columns and keys, or lines such as {direct: K1 "+
			"K2, common: COM}")
	}
	var ok bool
	if b.matrix, ok = b.section(o, "matrix", "rows", "columns", "keys", "diodes"); ok {
		b.p.Rows = b.axis("rows", Row, MaxRows)
		b.p.Columns = b.axis("columns", Column, MaxColumns)
	}
	others, _ := b.section(o, "lines", "direct", "common", "shield", "ground")
	for _, kind := range []LineKind{Direct, Common, Shield, Ground} {
		for _, w := range b.list(others, string(kind)) {
			b.addLine(w, kind)
		}
	}
	if len(b.p.Lines) > MaxLines {
		b.wrong(b.lineAt[MaxLines], "%d lines; a jig reaches %d at most, so split the pad into two products",
			len(b.p.Lines), MaxLines)
	}
}

func (b *builder) axis(name string, kind LineKind, most int) []int {
	if b.missing(b.matrix, name, name+": "+map[LineKind]string{Row: "R1 R2", Column: "C1 C2"}[kind]) {
		return nil
	}
	words := b.list(b.matrix, name)
	if len(words) > most {
		b.wrong(words[most].place, "%d %s; a matrix has %d at most", len(words), name, most)
	}
	var all []int
	for _, w := range words {
		if i, ok := b.addLine(w, kind); ok {
			all = append(all, i)
		}
	}
	return all
}

func (b *builder) addLine(w word, kind LineKind) (int, bool) {
	switch r, odd := unprintable(w.text, false); {
	case odd:
		b.wrong(w.place, "line name %q holds the character %U; write it without spaces and control "+
			"characters", w.text, r)
		return 0, false
	case slices.Contains(reserved, w.text) || w.text == "-" || w.text == "--":
		b.wrong(w.place, "%q has a meaning of its own and cannot name a line; choose another name", w.text)
		return 0, false
	case b.p.Line(w.text) >= 0:
		b.wrong(w.place, "line %q is there already (line %d); give each line its own name",
			w.text, b.lineAt[b.p.Line(w.text)].line)
		return 0, false
	}
	b.p.Lines = append(b.p.Lines, Line{Name: w.text, Kind: kind})
	b.lineAt = append(b.lineAt, w.place)
	return len(b.p.Lines) - 1, true
}

func (b *builder) lineNames() []string {
	names := make([]string, len(b.p.Lines))
	for i, l := range b.p.Lines {
		names[i] = l.Name
	}
	return names
}

// tail puts the lines on their pins.
func (b *builder) tail(o object) {
	if b.missing(o, "tail", "tail: R1 R2 C1 C2") {
		return
	}
	words := b.list(o, "tail")
	if len(words) == 0 {
		return
	}
	if len(words) > MaxPins {
		b.wrong(words[MaxPins].place, "%d tail pins; a jig reaches %d at most", len(words), MaxPins)
	}
	for i, w := range words {
		b.p.Tail = append(b.p.Tail, b.pin(i+1, w))
	}
	for i, l := range b.p.Lines {
		if l.Pin == 0 {
			b.wrong(b.lineAt[i], "line %q has no tail pin; add it to tail where it comes out", l.Name)
		}
	}
}

func (b *builder) pin(number int, w word) string {
	if w.text == "-" {
		return ""
	}
	i := b.p.Line(w.text)
	switch {
	case i < 0:
		b.wrong(w.place, `tail pin %d: no line %q%s (an unused pin is "-")`, number, w.text,
			didYouMean(w.text, b.lineNames()))
		return ""
	case b.p.Lines[i].Pin > 0:
		b.wrong(w.place, `tail pin %d: line %q is on pin %d already; write "-" for an unused pin`,
			number, w.text, b.p.Lines[i].Pin)
		return ""
	}
	b.p.Lines[i].Pin = number
	return w.text
}
