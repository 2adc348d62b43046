package chart

import (
	"cmp"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
)

// Charts of rows: the height of a row, and the room above them without a title. In a
// narrow drawing name and text stand above what they name.
const (
	rowHigh    = 24.0
	narrowHigh = 44.0
	quietTop   = 18.0
)

// rows is the part of a chart of rows that all have: names at the left, one
// scale for all, texts at the right.
type rows struct {
	plot
	high         float64
	nameWide     float64
	names, texts []string
}

// newRows makes room for names and texts, and above them for a second scale.
func newRows(f Frame, x Axis, from, to float64, names, texts []string, above float64) rows {
	s := &sheet{Frame: f}
	r := rows{high: rowHigh, names: names, texts: texts}
	if f.narrow() {
		r.high = narrowHigh
	}
	top := edgeTop
	if f.Quiet || f.Title == "" {
		top = quietTop
	} else {
		s.text("heading", 2, 14, left, f.Title)
	}
	top += above
	bottom := top + r.high*float64(len(names))
	s.Height = bottom + edgeBottom
	r.plot = plot{sheet: s, top: top, bottom: bottom, right: f.Width - edgeRight}
	nameWide, textWide := min(widest(names), f.Width*0.38), widest(texts)
	switch {
	case f.narrow():
		r.left = edgeRight
	default:
		r.left = nameWide + 14
		if textWide > 0 {
			r.right = f.Width - textWide - 14
		}
	}
	r.x = scale{from: from, to: to, start: r.left, end: r.right, log: x.Log, whole: x.Whole}
	r.nameWide = nameWide
	r.xLabels(x)
	return r
}

// labels writes names and texts, over what else is drawn.
func (r rows) labels() {
	for i := range r.names {
		text := ""
		if i < len(r.texts) {
			text = r.texts[i]
		}
		r.label(i, r.nameWide, r.names[i], text)
	}
}

func (r rows) label(i int, wide float64, name, text string) {
	y := r.middle(i) + 4
	if r.narrow() {
		y = r.top + r.high*float64(i) + 14
		r.text("name haloed", 4, y, left, fit(name, r.Width-textWidth(text)-20))
		if text != "" {
			r.text("value haloed", r.Width-4, y, right, text)
		}
		return
	}
	r.text("name", wide+6, y, right, fit(name, wide))
	if text != "" {
		r.text("value", r.right+8, y, left, text)
	}
}

// headroom is what a line of text above the rows needs where there is a title too.
func (f Frame) headroom(text string) float64 {
	if text == "" || f.Quiet || f.Title == "" {
		return 0
	}
	return lineHigh
}

func widest(texts []string) float64 {
	w := 0.0
	for _, t := range texts {
		w = max(w, textWidth(t))
	}
	return w
}

func (r rows) middle(i int) float64 {
	if r.narrow() {
		return r.top + r.high*float64(i) + 29
	}
	return r.top + r.high*(float64(i)+0.5)
}

// Bars are counts in the order in which they are given, largest first if the
// caller sorts them, with the interval of each as a whisker.
type Bars struct {
	Frame
	X    Axis
	Bars []Bar
	// Whole is the count that is all of them: with it the chart has a second scale
	// above, from 0 to 100 %, and a line of what the bars come to together. 0 for none.
	Whole float64
	// WholeText says what the second scale is.
	WholeText string
}

// Bar is one row.
type Bar struct {
	Name      string
	Value     float64
	Low, High float64 // interval, NaN for none
	SoFar     float64 // count of this and all above; with [Bars.Whole]
	Text      string  // at the right
	Tip, Link string
	Chosen    bool // stands out
}

// SVG draws the chart.
func (b Bars) SVG() template.HTML {
	return b.both(func(f Frame) template.HTML {
		b.Frame = f
		return b.draw()
	})
}

func (b Bars) draw() template.HTML {
	var names, texts []string
	ends := []float64{0}
	for _, bar := range b.Bars {
		names, texts = append(names, bar.Name), append(texts, bar.Text)
		ends = append(ends, bar.Value, bar.High)
	}
	above := 0.0
	if b.Whole > 0 {
		above, ends = 20, append(ends, b.Whole)
	}
	_, to := b.X.span(ends...)
	r := newRows(b.Frame, b.X, 0, to, names, texts, above)
	for i, bar := range b.Bars {
		y, class := r.middle(i), "bar"
		if bar.Chosen {
			class = "bar chosen"
		}
		r.spot(Spot{Tip: bar.Tip, Link: bar.Link}, func() { r.box(class, r.left, y-8, r.x.held(bar.Value)-r.left, 16) })
		if !math.IsNaN(bar.Low) && !math.IsNaN(bar.High) && bar.High > bar.Low {
			r.whisker("whisker", bar.Low, bar.High, y)
		}
	}
	r.line("axis", r.left, r.top, r.left, r.bottom)
	b.together(r)
	r.labels()
	return r.finish("bars")
}

// together draws what the bars come to, and the scale that it is read on.
func (b Bars) together(r rows) {
	if b.Whole <= 0 {
		return
	}
	end := r.x.at(b.Whole)
	share := scale{from: 0, to: 100, start: r.left, end: end}
	every := 20.0
	if end-r.left < 260 {
		every = 50
	}
	r.line("second", r.left, r.top, end, r.top)
	for v := 0.0; v <= 100; v += every {
		x, text := share.at(v), r.number(0, v)+" %"
		r.line("second", x, r.top-4, x, r.top)
		r.text("value", r.inside(x, text), r.top-7, middle, text)
	}
	if b.WholeText != "" {
		r.text("label", r.inside((r.left+end)/2, b.WholeText), r.top-22, middle, fit(b.WholeText, r.Width-8))
	}
	line := make([]point, len(b.Bars))
	for i, bar := range b.Bars {
		line[i] = point{r.x.held(bar.SoFar), r.middle(i)}
	}
	r.path("together", line)
	for _, q := range line {
		r.diamond("point second", q.x, q.y, 3.6)
	}
}

// whisker draws an interval; an end outside the chart has no cap.
func (r rows) whisker(class string, low, high, y float64) {
	a, b := r.x.held(low), r.x.held(high)
	r.line(class, a, y, b, y)
	if low >= r.x.from {
		r.line(class, a, y-4, a, y+4)
	}
	if high <= r.x.to {
		r.line(class, b, y-4, b, y+4)
	}
}

// Intervals are values with their intervals, one a row, on one scale.
type Intervals struct {
	Frame
	X    Axis
	Rows []Interval
	// Reference is a line to compare with, NaN for none.
	Reference     float64
	ReferenceText string
}

// Interval is one row.
type Interval struct {
	Name             string
	Value, Low, High float64 // NaN: not known
	// Second is another value of the row, with its interval, drawn as a diamond; NaN for none.
	Second, SecondLow, SecondHigh float64
	Text                          string
	Tip, Link                     string
	N                             int // units, for [Frame.Few]
}

// SVG draws the chart.
func (c Intervals) SVG() template.HTML {
	return c.both(func(f Frame) template.HTML {
		c.Frame = f
		return c.draw()
	})
}

func (c Intervals) draw() template.HTML {
	var small string
	c.Rows, small = large(c.Few, c.Rows, func(row Interval) (string, int) { return row.Name, row.N })
	var names, texts []string
	var ends []float64
	for _, row := range c.Rows {
		names, texts = append(names, row.Name), append(texts, row.Text)
		ends = append(ends, row.Value, row.Low, row.High)
		if !math.IsNaN(row.Second) {
			ends = append(ends, row.Second, row.SecondLow, row.SecondHigh)
		}
	}
	from, to := c.X.span(append(ends, c.Reference)...)
	r := newRows(c.Frame, c.X, from, to, names, texts, c.headroom(c.ReferenceText))
	if c.Reference >= from && c.Reference <= to {
		x := r.x.at(c.Reference)
		r.line("centre", x, r.top-2, x, r.bottom)
		r.text("end", r.inside(x, c.ReferenceText), r.top-6, middle, c.ReferenceText)
	}
	for i, row := range c.Rows {
		c.row(r, r.middle(i), row)
	}
	r.labels()
	r.below(small)
	return r.finish("intervals")
}

func (c Intervals) row(r rows, y float64, row Interval) {
	shift := 0.0
	if !math.IsNaN(row.Second) {
		shift = 5
		if row.SecondLow <= row.SecondHigh {
			r.whisker("whisker second", row.SecondLow, row.SecondHigh, y+shift)
		}
		r.diamond("point second", r.x.held(row.Second), y+shift, 4.2)
	}
	if math.IsNaN(row.Value) {
		return
	}
	if row.Low <= row.High {
		r.whisker("whisker", row.Low, row.High, y-shift)
	}
	r.spot(Spot{Tip: row.Tip, Link: row.Link}, func() { r.dot("point", r.x.held(row.Value), y-shift, 4) })
}

// large leaves out rows of few units, and names them. Where all are small there is no
// scale to be kept, and all are drawn.
func large[R any](few Few, list []R, of func(R) (string, int)) (out []R, words string) {
	var names []string
	for _, row := range list {
		if name, n := of(row); n < few.Least {
			names = append(names, fmt.Sprintf("%s (n %d)", name, n))
			continue
		}
		out = append(out, row)
	}
	if len(out) == 0 {
		return list, ""
	}
	return out, few.named(names)
}

// Spreads compares distributions, one a row, by what lies between their
// quantiles; each row may have limits of its own.
type Spreads struct {
	Frame
	X    Axis
	Rows []Spread
	// Limits name the lower and the upper limits above the rows; empty for none.
	Limits [2]string
}

// Spread is one row: least, 5 %, 25 %, middle, 75 %, 95 %, most.
type Spread struct {
	Name                                 string
	Least, P5, P25, P50, P75, P95, Most  float64
	Lower, Upper, GuardLower, GuardUpper float64 // limits, NaN for none; widths of the guard bands
	Text                                 string
	Tip, Link                            string
	N                                    int // units, for [Frame.Few]
}

// SVG draws the chart.
func (c Spreads) SVG() template.HTML {
	return c.both(func(f Frame) template.HTML {
		c.Frame = f
		return c.draw()
	})
}

func (c Spreads) draw() template.HTML {
	var small string
	c.Rows, small = large(c.Few, c.Rows, func(row Spread) (string, int) { return row.Name, row.N })
	var names, texts []string
	var ends []float64
	for _, row := range c.Rows {
		names, texts = append(names, row.Name), append(texts, row.Text)
		ends = append(ends, row.Least, row.Most, row.Lower, row.Upper)
	}
	from, to := c.X.span(ends...)
	r := newRows(c.Frame, c.X, from, to, names, texts, c.headroom(c.Limits[0]+c.Limits[1]))
	r.hatch("guard")
	for i, row := range c.Rows {
		row.draw(r, r.middle(i))
	}
	c.limits(r)
	r.labels()
	r.below(small)
	return r.finish("spreads")
}

// limits names each limit there is, once, where it has room.
func (c Spreads) limits(r rows) {
	var named []Named
	for _, row := range c.Rows {
		for i, v := range []float64{row.Lower, row.Upper} {
			one := Named{v, strings.TrimSpace(c.Limits[i] + " " + r.number(digitsOf(v/100), v) + " " + c.X.Label)}
			if c.Limits[i] != "" && !math.IsNaN(v) && !slices.Contains(named, one) {
				named = append(named, one)
			}
		}
	}
	slices.SortFunc(named, func(a, b Named) int { return cmp.Compare(a.Value, b.Value) })
	free := math.Inf(-1)
	for _, n := range named {
		half := textWidth(n.Text) / 2
		if x := r.inside(r.x.held(n.Value), n.Text); x-half > free {
			r.text("end", x, r.top-5, middle, n.Text)
			free = x + half + 8
		}
	}
}

func (row Spread) draw(r rows, y float64) {
	high := rowHigh - 4
	for _, limit := range [][2]float64{{row.Upper, row.Upper - row.GuardUpper}, {row.Lower, row.Lower + row.GuardLower}} {
		if !math.IsNaN(limit[0]) {
			x, guard := r.x.held(limit[0]), r.x.held(limit[1])
			r.hatched("guard", min(x, guard), y-high/2, math.Abs(guard-x), high)
			r.line("limit", x, y-high/2, x, y+high/2)
		}
	}
	if math.IsNaN(row.P50) {
		return
	}
	r.line("thin", r.x.held(row.Least), y, r.x.held(row.Most), y)
	r.line("thick", r.x.held(row.P5), y, r.x.held(row.P95), y)
	a, b := r.x.held(row.P25), r.x.held(row.P75)
	r.spot(Spot{Tip: row.Tip, Link: row.Link}, func() { r.box("quartiles", a, y-6, max(b-a, 1), 12) })
	x := r.x.held(row.P50)
	r.line("median", x, y-6, x, y+6)
}
