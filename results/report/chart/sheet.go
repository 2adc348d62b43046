package chart

import (
	"cmp"
	"fmt"
	"html"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Frame is what all charts have in common.
type Frame struct {
	ID    string // unique on the page, a word
	Title string // what is shown, read aloud and above the drawing unless Quiet
	Desc  string // what is to be seen in it, in a sentence or two; read aloud
	Quiet bool   // the title stands beside the drawing already
	Width float64
	// Height is that of the drawing with its axes, in the same units as Width.
	// Charts of rows find their own and ignore it.
	Height float64
	// Narrow is the width of a second drawing for narrow windows, 0 for none: its
	// text is as large there as that of the first in a wide one. The style sheet
	// shows one of the two.
	Narrow float64
	// Few is what a chart of groups does with small ones.
	Few Few
	// Number writes a value with so many digits after the decimal mark; nil
	// writes a point and no marks between thousands.
	Number func(digits int, v float64) string

	shape       string  // "wide" or "narrow" where there are two drawings
	left, right float64 // least room beside the plot, so that panels are aligned
}

// Few says which groups are too small to be drawn to scale: their intervals would
// leave nothing of the others. They are named below the chart.
type Few struct {
	Least int    // units in a group that is drawn; 0 draws all
	Words string // stands before their names
}

// both draws a chart, and where it is asked for once more for narrow windows.
func (f Frame) both(draw func(Frame) template.HTML) template.HTML {
	if f.Narrow == 0 {
		return draw(f)
	}
	wide, narrow := f, f
	wide.shape = "wide"
	narrow.ID, narrow.Width, narrow.shape = f.ID+"-narrow", f.Narrow, "narrow"
	return draw(wide) + draw(narrow)
}

func (f Frame) narrow() bool { return f.shape == "narrow" }

func (f Frame) number(digits int, v float64) string {
	if math.Abs(v) < 0.5*math.Pow(10, -float64(digits)) {
		v = 0 // no minus before nothing
	}
	if f.Number != nil {
		return f.Number(digits, v)
	}
	return strings.Replace(strconv.FormatFloat(v, 'f', digits, 64), "-", "−", 1)
}

// sheet collects the elements of one drawing.
type sheet struct {
	Frame
	body  strings.Builder
	spots int
	about string // attributes for who points at the drawing
}

// finish wraps what was drawn. A drawing is one picture, unless there is
// something in it to be reached.
func (s *sheet) finish(kind string) template.HTML {
	var out strings.Builder
	role := "img"
	if s.spots > 0 {
		role = "group"
	}
	if s.shape != "" {
		kind += " c-" + s.shape
	}
	fmt.Fprintf(&out, `<svg id="%[5]s" class="chart c-%[1]s" viewBox="0 0 %[2]s %[3]s" width="%[2]s" height="%[3]s" role="%[4]s" aria-labelledby="%[5]s-title %[5]s-desc"%[6]s>`,
		kind, at(s.Width), at(s.Height), role, html.EscapeString(s.ID), s.about)
	fmt.Fprintf(&out, `<title id="%s-title">%s</title><desc id="%[1]s-desc">%[3]s</desc>`,
		html.EscapeString(s.ID), html.EscapeString(s.Title), html.EscapeString(s.Desc))
	out.WriteString(s.body.String())
	out.WriteString("</svg>")
	return template.HTML(out.String())
}

// at writes a place on the sheet: a tenth of a unit is finer than any screen shows.
func at(v float64) string {
	return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64)
}

// Spot is what stands behind a mark: what it says while it is pointed at or has
// the focus, where it leads, and what the address is given when it is the end of
// a part that was chosen.
type Spot struct {
	Tip, Link string
	From, To  string
}

// spot draws the mark of a value.
func (s *sheet) spot(at Spot, draw func()) {
	if at.Tip == "" {
		draw()
		return
	}
	element := "g"
	s.body.WriteString("<")
	if at.Link != "" {
		element = "a"
	}
	fmt.Fprintf(&s.body, `%s class="c-spot"`, element)
	for _, a := range [][2]string{{"href", at.Link}, {"data-from", at.From}, {"data-to", at.To}} {
		if a[1] != "" {
			fmt.Fprintf(&s.body, ` %s="%s"`, a[0], html.EscapeString(a[1]))
		}
	}
	fmt.Fprintf(&s.body, `><title>%s</title>`, html.EscapeString(at.Tip))
	draw()
	fmt.Fprintf(&s.body, `</%s>`, element)
	s.spots++
}

// below writes a text under the drawing, in as many lines as it needs.
func (s *sheet) below(text string) {
	if text == "" {
		return
	}
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && textWidth(line+" "+word) > s.Width-8 {
			s.text("note", 4, s.Height+10, left, line)
			s.Height, line = s.Height+16, ""
		}
		line = strings.TrimSpace(line + " " + word)
	}
	s.text("note", 4, s.Height+10, left, line)
	s.Height += 18
}

// named lists the groups that are too small to be drawn.
func (f Few) named(groups []string) string {
	if len(groups) == 0 {
		return ""
	}
	return f.Words + " " + strings.Join(groups, ", ")
}

func (s *sheet) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&s.body, `<line class="%s" x1="%s" y1="%s" x2="%s" y2="%s"/>`, classes(class), at(x1), at(y1), at(x2), at(y2))
}

// box draws a rectangle.
func (s *sheet) box(class string, x, y, w, h float64) {
	fmt.Fprintf(&s.body, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, classes(class), at(x), at(y), at(max(w, 0)), at(max(h, 0)))
}

// anchors of text.
const (
	left   = "start"
	middle = "middle"
	right  = "end"
)

func (s *sheet) text(class string, x, y float64, anchor, text string) {
	fmt.Fprintf(&s.body, `<text class="%s" x="%s" y="%s" text-anchor="%s">%s</text>`, classes(class), at(x), at(y), anchor, html.EscapeString(text))
}

// upright writes a text that reads from the bottom to the top.
func (s *sheet) upright(class string, x, y float64, text string) {
	fmt.Fprintf(&s.body, `<text class="%s" transform="translate(%s %s) rotate(-90)" text-anchor="middle">%s</text>`,
		classes(class), at(x), at(y), html.EscapeString(text))
}

// classes puts "c-" before each name, so that none is one of the page's own.
func classes(names string) string {
	return "c-" + strings.ReplaceAll(names, " ", " c-")
}

type point struct{ x, y float64 }

// spaced moves texts that stand at these heights so that none covers another: each
// at least gap below the one before, all between low and high as far as there is room.
func spaced(heights []float64, gap, low, high float64) []float64 {
	order := make([]int, len(heights))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(heights[a], heights[b]) })
	out := slices.Clone(heights)
	for i, at := range order {
		out[at] = max(out[at], low)
		if i > 0 {
			out[at] = max(out[at], out[order[i-1]]+gap)
		}
	}
	for i, at := range slices.Backward(order) {
		limit := high
		if i+1 < len(order) {
			limit = out[order[i+1]] - gap
		}
		out[at] = min(out[at], limit)
	}
	return out
}

// path joins points; a point that is not finite makes a gap.
func (s *sheet) path(class string, points []point) {
	var d strings.Builder
	pen := byte('M')
	for _, p := range points {
		if math.IsNaN(p.x) || math.IsNaN(p.y) || math.IsInf(p.y, 0) {
			pen = 'M'
			continue
		}
		fmt.Fprintf(&d, "%c%s %s", pen, at(p.x), at(p.y))
		pen = 'L'
	}
	if d.Len() > 0 {
		fmt.Fprintf(&s.body, `<path class="%s" d="%s"/>`, classes(class), d.String())
	}
}

// area fills what points enclose.
func (s *sheet) area(class string, points []point) {
	var d strings.Builder
	for i, p := range points {
		pen := byte('L')
		if i == 0 {
			pen = 'M'
		}
		fmt.Fprintf(&d, "%c%s %s", pen, at(p.x), at(p.y))
	}
	if d.Len() > 0 {
		fmt.Fprintf(&s.body, `<path class="%s" d="%sZ"/>`, classes(class), d.String())
	}
}

func (s *sheet) dot(class string, x, y, r float64) {
	fmt.Fprintf(&s.body, `<circle class="%s" cx="%s" cy="%s" r="%s"/>`, classes(class), at(x), at(y), at(r))
}

// diamond stands on its corner, so that it differs from a dot in shape too.
func (s *sheet) diamond(class string, x, y, r float64) {
	fmt.Fprintf(&s.body, `<path class="%s" d="M%s %sL%s %sL%s %sL%s %sZ"/>`, classes(class),
		at(x), at(y-r), at(x+r), at(y), at(x), at(y+r), at(x-r), at(y))
}

// hatch names a fill of slanted lines, and defines it.
func (s *sheet) hatch(name string) {
	fmt.Fprintf(&s.body, `<defs><pattern id="%s-%s" class="c-hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="5"/></pattern></defs>`,
		html.EscapeString(s.ID), name)
}

func (s *sheet) hatched(name string, x, y, w, h float64) {
	fmt.Fprintf(&s.body, `<rect class="c-hatched" fill="url(#%s-%s)" x="%s" y="%s" width="%s" height="%s"/>`,
		html.EscapeString(s.ID), name, at(x), at(y), at(max(w, 0)), at(max(h, 0)))
}

// charWidth is about what a character of ordinary text takes.
const charWidth = 7.0

func textWidth(text string) float64 { return charWidth * float64(utf8.RuneCountInString(text)) }

// fit shortens text to a width.
func fit(text string, width float64) string {
	room := int(width / charWidth)
	if utf8.RuneCountInString(text) <= room {
		return text
	}
	if room < 2 {
		return ""
	}
	return string([]rune(text)[:room-1]) + "…"
}
