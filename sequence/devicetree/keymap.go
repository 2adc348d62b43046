package devicetree

import (
	"fmt"
	"slices"
	"unicode/utf8"

	"padjig/sequence/product"
)

// gpioMatrix is the driver that scans a matrix with plain GPIOs. It reads no
// row that is switched to ground as a key of its own.
const gpioMatrix = "gpio-matrix-keypad"

// keymap reads the entries and holds them to the stated size.
func (r *reader) keymap() {
	r.pad.Rows = r.axis("keypad,num-rows", "row-gpios")
	r.pad.Columns = r.axis("keypad,num-columns", "col-gpios")
	p := r.node.Property(keymapProperty)
	cells, ok := p.cells()
	if !ok || len(cells) == 0 {
		r.wrong(p.at(), "%s must be cells of 32 bits; write an entry for each key, such as MATRIX_KEY(0, 0, KEY_1)",
			keymapProperty)
		return
	}
	for _, c := range cells {
		if k, ok := r.entry(c); ok {
			r.pad.Keys = append(r.pad.Keys, k)
		}
	}
	r.counted(&r.pad.Rows, "rows", "keypad,num-rows", func(k Key) int { return k.Row })
	r.counted(&r.pad.Columns, "columns", "keypad,num-columns", func(k Key) int { return k.Column })
	r.pad.Keys = slices.DeleteFunc(r.pad.Keys, func(k Key) bool { return !r.inSize(k) })
	r.grounded()
	r.doubled()
}

// entry splits a cell: row << 24 | column << 16 | code.
func (r *reader) entry(c Cell) (Key, bool) {
	at := place{c.Line, c.Column}
	switch {
	case c.Reference != "":
		r.wrong(at, "%s holds the reference &%s; write an entry such as MATRIX_KEY(0, 0, KEY_1)",
			keymapProperty, c.Reference)
		return Key{}, false
	case c.Unknown != "" && !c.Key:
		r.wrong(at, "%s has no value here; write MATRIX_KEY(row, column, code) or the number, #define it in this "+
			"file, or %s", c.Unknown, preprocessor)
		return Key{}, false
	}
	k := Key{Row: int(c.Value >> 24), Column: int(c.Value >> 16 & 0xff), at: at}
	k.base = labelOf(c.Code, uint16(c.Value))
	if c.Unknown == "" && uint16(c.Value) == 0 {
		r.remark(at, "%s has the code 0, with which Linux reports nothing; take the key out if it is not there",
			k.crossing())
	}
	return k, true
}

func (k Key) crossing() string {
	if k.Ground {
		return fmt.Sprintf("row %d to ground", k.Row)
	}
	return fmt.Sprintf("row %d, column %d", k.Row, k.Column)
}

// axis reads the number of rows or columns, from its property or from the list
// of GPIOs.
func (r *reader) axis(number, gpios string) Axis {
	a := Axis{GPIOs: r.gpios(gpios)}
	stated, at, ok := r.number(number)
	switch {
	case ok && (stated == 0 || stated > 256):
		r.wrong(at, "%s is %d; a keymap has from 1 to 256", number, stated)
	case ok:
		a.Count, a.Stated = int(stated), number
		if n := len(a.GPIOs); n > 0 && n != a.Count {
			r.remark(at, "%s is %d, but %s lists %d; %d is taken", number, a.Count, gpios, n, a.Count)
			a.GPIOs = nil
		}
	case len(a.GPIOs) > 0:
		a.Count, a.Stated = len(a.GPIOs), gpios
	}
	return a
}

// counted takes the number of lines from the keys when nothing states it.
func (r *reader) counted(a *Axis, what, property string, line func(Key) int) {
	if a.Count > 0 || len(r.mistakes) > 0 {
		return
	}
	for _, k := range r.pad.Keys {
		a.Count = max(a.Count, line(k)+1)
	}
	extra := ""
	if what == "columns" {
		extra = "; a row switched to ground could not be told from a column"
	}
	r.remark(place{r.node.Line, r.node.Column}, "nothing states the number of %s (%s); %d is taken from the keys%s",
		what, property, a.Count, extra)
}

// inSize leaves out what a pad of the stated size cannot have.
func (r *reader) inSize(k Key) bool {
	rows, columns := r.pad.Rows.Count, r.pad.Columns.Count
	switch {
	case k.Row >= rows:
		r.remark(k.at, "key %s is outside the keypad: row %d, but rows are 0 to %d; it was left out",
			k.base, k.Row, rows-1)
	case k.Column > columns:
		r.remark(k.at, "key %s is outside the keypad: column %d, but columns are 0 to %d; it was left out",
			k.base, k.Column, columns-1)
	case k.Column == columns && r.says("compatible", gpioMatrix):
		r.remark(k.at, "key %s is outside the keypad: column %d, but columns are 0 to %d, and %s does not read a "+
			"row switched to ground; it was left out", k.base, k.Column, columns-1, gpioMatrix)
	default:
		return true
	}
	return false
}

// grounded marks the keys whose column is the number of columns: controllers
// that see every column of a row at once report it so.
func (r *reader) grounded() {
	for i := range r.pad.Keys {
		k := &r.pad.Keys[i]
		if k.Column == r.pad.Columns.Count {
			k.Ground = true
			r.remark(k.at, "key %s has column %d of %d: it switches row %d to ground, and was made a key from the "+
				"row's line to a ground line", k.base, k.Column, k.Column, k.Row)
		}
	}
}

// doubled reports crossings with several entries. The same code twice is one
// key; other codes are kept, so that none is lost unseen.
func (r *reader) doubled() {
	seen := map[[2]int][]Key{}
	r.pad.Keys = slices.DeleteFunc(r.pad.Keys, func(k Key) bool {
		lines := [2]int{k.Row, k.Column}
		before := seen[lines]
		seen[lines] = append(before, k)
		if len(before) == 0 {
			return false
		}
		if i := slices.IndexFunc(before, func(b Key) bool { return b.base == k.base }); i >= 0 {
			r.remark(k.at, "%s has key %s twice (first on line %d); it was taken once", k.crossing(), k.base,
				before[i].at.line)
			return true
		}
		r.remark(k.at, "%s has two keys: %s (line %d) and %s; Linux knows only the later one; both are kept on "+
			"the crossing, so take out the one that is not there", k.crossing(), before[0].base,
			before[0].at.line, k.base)
		return false
	})
}

// longestLabel is what the product file allows.
const longestLabel = 24

// labels gives each key a label of its own.
func (r *reader) labels() {
	taken := map[string]Key{}
	for i := range r.pad.Keys {
		k := &r.pad.Keys[i]
		k.Label = cut(k.base, "")
		for n := 2; ; n++ {
			if _, used := taken[k.Label]; !used {
				break
			}
			k.Label = cut(k.base, fmt.Sprintf("_%d", n))
		}
		if before, again := taken[cut(k.base, "")]; again {
			r.remark(k.at, "code %s is on %s and on %s; the second key was labelled %s", k.base,
				before.crossing(), k.crossing(), k.Label)
		}
		taken[k.Label] = *k
	}
}

// cut gives the label with its suffix, no longer than a label can be.
func cut(label, suffix string) string {
	room := longestLabel - utf8.RuneCountInString(suffix)
	if runes := []rune(label); len(runes) > room {
		label = string(runes[:room])
	}
	return label + suffix
}

// reach refuses what no product can have.
func (r *reader) reach() {
	p := r.node.Property(keymapProperty)
	rows, columns := r.pad.lines(false), r.pad.lines(true)
	switch lines := len(rows) + len(columns); {
	case len(r.mistakes) > 0:
	case len(r.pad.Keys) == 0:
		r.wrong(p.at(), "no key of the keymap lies within the keypad; correct the number of rows and columns")
	case len(r.pad.Keys) > product.MaxKeys:
		r.wrong(p.at(), "%d keys; a product has %d at most", len(r.pad.Keys), product.MaxKeys)
	case len(rows) > product.MaxRows || len(columns) > product.MaxColumns || lines+1 > product.MaxLines:
		r.wrong(p.at(), "keys on %d rows and %d columns; a product has %d of each at most, %d lines with ground",
			len(rows), len(columns), product.MaxRows, product.MaxLines)
	}
	r.unused("row", r.pad.Rows, rows)
	r.unused("column", r.pad.Columns, columns)
}

// unused remarks on lines without keys. A controller often has more lines than
// the pad, so they are left out.
func (r *reader) unused(what string, a Axis, used []int) {
	if n := a.Count - len(used); n > 0 {
		r.remark(place{r.node.Line, r.node.Column}, "%d of %d %ss have no key and were left out; a line that does "+
			"reach the tail belongs under lines: shield", n, a.Count, what)
	}
}

// lines gives the numbers of the rows or columns that have a key, ascending.
func (p *Keypad) lines(columns bool) []int {
	var all []int
	for _, k := range p.Keys {
		switch {
		case !columns:
			all = append(all, k.Row)
		case !k.Ground:
			all = append(all, k.Column)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}
