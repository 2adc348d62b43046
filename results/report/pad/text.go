package pad

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
)

// Text shows the pad in the terminal as it looks: a box for each key with its
// label, boxes that touch sharing their border, and the sign of what is known of
// a key beneath its label. Lines end in a line feed.
func (p Pad) Text() string {
	if len(p.Keys) == 0 {
		return ""
	}
	signs := make([]string, len(p.Keys))
	for i, k := range p.Keys {
		signs[i] = p.sign(k)
	}
	c := newCanvas(p, signs)
	for i, k := range p.Keys {
		left, top, right, bottom := c.edges(k)
		c.box(left, top, right, bottom)
		c.write(left, right, middle(top, bottom, signs[i] != ""), k.Label)
		if signs[i] != "" {
			c.write(left, right, middle(top, bottom, true)+1, signs[i])
		}
	}
	return c.String() + p.listed(len(c.cells[0]))
}

// sign is what stands beneath a key's label: that of its state with the number
// of its defect, or its shade with the count that it stands for.
func (p Pad) sign(k Key) string {
	switch sign := marks[k.State].sign; {
	case sign != "" && k.Defect > 0:
		return fmt.Sprint(sign, k.Defect)
	case sign != "" || !p.shaded():
		return sign
	case math.IsNaN(k.Value):
		return marks[Unread].sign
	}
	shades := []rune("·░▒▓█")
	step := p.shade(k.Value, len(shades)-1)
	if step == 0 {
		return string(shades[0])
	}
	return string(shades[step]) + k.Now
}

// middle gives the line of the label in a box, one higher when a sign follows.
func middle(top, bottom int, sign bool) int {
	if sign {
		return (top + bottom - 1) / 2
	}
	return (top + bottom) / 2
}

// canvas is a sheet of terminal cells. Borders are kept as the directions that
// leave each cell until the drawing is done, so that joints come out right.
type canvas struct {
	wide, high int // terminal cells in a key pitch
	left, top  float64
	cells      [][]cell
}

type cell struct {
	border uint8
	text   string // "" for none
	hidden bool   // under the second half of a wide character
}

const (
	up uint8 = 1 << iota
	down
	left
	right
)

var joints = [16]string{
	" ", "│", "│", "│", "─", "┘", "┐", "┤", "─", "└", "┌", "├", "─", "┴", "┬", "┼",
}

// A pitch is drawn this many cells wide at least and at most; longer labels
// are cut. Labels have air around them as long as the drawing stays within a page.
const narrowest, widest, page = 4, 12, 100

func newCanvas(p Pad, signs []string) *canvas {
	x0, y0, x1, y1 := p.extent()
	c := &canvas{high: 2, left: x0, top: y0}
	if slices.ContainsFunc(signs, func(sign string) bool { return sign != "" }) {
		c.high = 3
	}
	lowest := 1.0
	for _, k := range p.Keys {
		lowest = min(lowest, k.H)
	}
	c.high = max(c.high, int(math.Ceil(float64(c.high)/lowest)))
	if c.wide = pitch(p.Keys, signs, 3); float64(c.wide)*(x1-x0) > page {
		c.wide = pitch(p.Keys, signs, 1)
	}
	c.cells = make([][]cell, c.row(y1)+1)
	for y := range c.cells {
		c.cells[y] = make([]cell, c.column(x1)+1)
	}
	return c
}

// pitch gives the width of a key pitch in which every label and sign fits with
// air around it; a border is part of the air.
func pitch(keys []Key, signs []string, air int) int {
	wide := narrowest
	for i, k := range keys {
		text := max(columnsOf(k.Label), columnsOf(signs[i]))
		wide = max(wide, min(widest, int(math.Ceil(float64(text+air)/k.W))))
	}
	return wide
}

func (c *canvas) column(x float64) int { return int(math.Round((x - c.left) * float64(c.wide))) }
func (c *canvas) row(y float64) int    { return int(math.Round((y - c.top) * float64(c.high))) }

func (c *canvas) edges(k Key) (left, top, right, bottom int) {
	return c.column(k.X), c.row(k.Y), c.column(k.X + k.W), c.row(k.Y + k.H)
}

func (c *canvas) box(x0, y0, x1, y1 int) {
	for x := x0; x < x1; x++ {
		for _, y := range []int{y0, y1} {
			c.cells[y][x].border |= right
			c.cells[y][x+1].border |= left
		}
	}
	for y := y0; y < y1; y++ {
		for _, x := range []int{x0, x1} {
			c.cells[y][x].border |= down
			c.cells[y+1][x].border |= up
		}
	}
}

// write centres text between two borders, cut to fit.
func (c *canvas) write(x0, x1, y int, text string) {
	room := x1 - x0 - 1
	text = fit(text, room)
	x := x0 + 1 + (room-columnsOf(text))/2
	for _, r := range text {
		switch w := width(r); {
		case w == 0 && x > 0:
			c.cells[y][x-1].text += string(r)
		case w > 0:
			c.cells[y][x].text = string(r)
			if w == 2 {
				c.cells[y][x+1].hidden = true
			}
			x += w
		}
	}
}

func fit(text string, room int) string {
	if columnsOf(text) <= room {
		return text
	}
	cut, used := "", 0
	for _, r := range text {
		if used+width(r) > room-1 {
			break
		}
		cut += string(r)
		used += width(r)
	}
	if room < 1 {
		return ""
	}
	return cut + "…"
}

// String gives the sheet without spaces at the ends of lines.
func (c *canvas) String() string {
	var all strings.Builder
	for _, row := range c.cells {
		var line strings.Builder
		for _, one := range row {
			switch {
			case one.hidden:
			case one.text != "":
				line.WriteString(one.text)
			default:
				line.WriteString(joints[one.border])
			}
		}
		all.WriteString(strings.TrimRight(line.String(), " "))
		all.WriteByte('\n')
	}
	return all.String()
}

func columnsOf(text string) int {
	n := 0
	for _, r := range text {
		n += width(r)
	}
	return n
}

// width gives the terminal columns of a character: none for combining marks,
// two for the wide blocks of East Asian scripts and pictures, else one.
func width(r rune) int {
	switch {
	case unicode.In(r, unicode.Mn, unicode.Me):
		return 0
	case r >= 0x1100 && r <= 0x115f, r >= 0x2e80 && r <= 0xa4cf, r >= 0xac00 && r <= 0xd7a3,
		r >= 0xf900 && r <= 0xfaff,
		r >= 0xfe30 && r <= 0xfe6f, r >= 0xff00 && r <= 0xff60, r >= 0xffe0 && r <= 0xffe6,
		r >= 0x1f300 && r <= 0x1f64f, r >= 0x1f900 && r <= 0x1f9ff, r >= 0x20000 && r <= 0x3fffd:
		return 2
	}
	return 1
}
