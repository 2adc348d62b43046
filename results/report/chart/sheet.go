package chart

import (
	"fmt"
	"html"
	"html/template"
	"math"
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
	// Number writes a value with so many digits after the decimal mark; nil
	// writes a point and no marks between thousands.
	Number func(digits int, v float64) string
}

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
	body strings.Builder
}

// finish wraps what was drawn.
func (s *sheet) finish(kind string) template.HTML {
	var out strings.Builder
	fmt.Fprintf(&out, `<svg class="chart c-%s" viewBox="0 0 %s %s" width="%[2]s" height="%[3]s" role="img" aria-labelledby="%[4]s-title %[4]s-desc">`,
		kind, at(s.Width), at(s.Height), html.EscapeString(s.ID))
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

func (s *sheet) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&s.body, `<line class="%s" x1="%s" y1="%s" x2="%s" y2="%s"/>`, classes(class), at(x1), at(y1), at(x2), at(y2))
}

// box draws a rectangle; a tip is shown while the pointer rests on it.
func (s *sheet) box(class string, x, y, w, h float64, tip string) {
	fmt.Fprintf(&s.body, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"`, classes(class), at(x), at(y), at(max(w, 0)), at(max(h, 0)))
	s.close("rect", tip)
}

func (s *sheet) close(element, tip string) {
	if tip == "" {
		s.body.WriteString("/>")
		return
	}
	fmt.Fprintf(&s.body, `><title>%s</title></%s>`, html.EscapeString(tip), element)
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

func (s *sheet) dot(class string, x, y, r float64, tip string) {
	fmt.Fprintf(&s.body, `<circle class="%s" cx="%s" cy="%s" r="%s"`, classes(class), at(x), at(y), at(r))
	s.close("circle", tip)
}

// diamond stands on its corner, so that it differs from a dot in shape too.
func (s *sheet) diamond(class string, x, y, r float64, tip string) {
	fmt.Fprintf(&s.body, `<path class="%s" d="M%s %sL%s %sL%s %sL%s %sZ"`, classes(class),
		at(x), at(y-r), at(x+r), at(y), at(x), at(y+r), at(x-r), at(y))
	s.close("path", tip)
}

// hatch names a fill of slanted lines, and defines it.
func (s *sheet) hatch(name string) {
	fmt.Fprintf(&s.body, `<defs><pattern id="%s-%s" class="c-hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="5"/></pattern></defs>`,
		html.EscapeString(s.ID), name)
}

func (s *sheet) hatched(name string, x, y, w, h float64, tip string) {
	fmt.Fprintf(&s.body, `<rect class="c-hatched" fill="url(#%s-%s)" x="%s" y="%s" width="%s" height="%s"`,
		html.EscapeString(s.ID), name, at(x), at(y), at(max(w, 0)), at(max(h, 0)))
	s.close("rect", tip)
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
