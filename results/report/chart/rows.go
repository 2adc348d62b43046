package chart

import (
	"html/template"
	"math"
)

// Charts of rows: the height of a row, and the room above them without a title.
const (
	rowHigh  = 24.0
	quietTop = 18.0
)

// rows is the part of a chart of rows that all have: names at the left, one
// scale for all, texts at the right.
type rows struct {
	plot
	names, texts []string
}

// newRows makes room for names and texts.
func newRows(f Frame, x Axis, from, to float64, names, texts []string) rows {
	s := &sheet{Frame: f}
	s.Height = edgeTop + rowHigh*float64(len(names)) + edgeBottom
	nameWide, textWide := widest(names), widest(texts)
	nameWide = min(nameWide, f.Width*0.38)
	p := plot{sheet: s, top: edgeTop, bottom: s.Height - edgeBottom, left: nameWide + 14, right: f.Width - edgeRight}
	if f.Quiet || f.Title == "" {
		p.top, s.Height, p.bottom = quietTop, s.Height-edgeTop+quietTop, p.bottom-edgeTop+quietTop
	} else {
		s.text("heading", 2, 14, left, f.Title)
	}
	if textWide > 0 {
		p.right = f.Width - textWide - 14
	}
	p.x = scale{from: from, to: to, start: p.left, end: p.right, log: x.Log}
	r := rows{plot: p, names: names, texts: texts}
	r.xLabels(x)
	for i := range names {
		y := r.middle(i) + 4
		r.text("name", nameWide+6, y, right, fit(names[i], nameWide))
		if i < len(texts) && texts[i] != "" {
			r.text("value", r.right+8, y, left, texts[i])
		}
	}
	return r
}

func widest(texts []string) float64 {
	w := 0.0
	for _, t := range texts {
		w = max(w, textWidth(t))
	}
	return w
}

func (r rows) middle(i int) float64 { return r.top + rowHigh*(float64(i)+0.5) }

// Bars are counts in the order in which they are given, largest first if the
// caller sorts them, with the interval of each as a whisker.
type Bars struct {
	Frame
	X    Axis
	Bars []Bar
}

// Bar is one row.
type Bar struct {
	Name      string
	Value     float64
	Low, High float64 // interval, NaN for none
	Text      string  // at the right
	Tip       string
	Chosen    bool // stands out
}

// SVG draws the chart.
func (b Bars) SVG() template.HTML {
	var names, texts []string
	ends := []float64{0}
	for _, bar := range b.Bars {
		names, texts = append(names, bar.Name), append(texts, bar.Text)
		ends = append(ends, bar.Value, bar.High)
	}
	_, to := b.X.span(ends...)
	r := newRows(b.Frame, b.X, 0, to, names, texts)
	for i, bar := range b.Bars {
		y, class := r.middle(i), "bar"
		if bar.Chosen {
			class = "bar chosen"
		}
		r.box(class, r.left, y-8, r.x.held(bar.Value)-r.left, 16, bar.Tip)
		if !math.IsNaN(bar.Low) && !math.IsNaN(bar.High) && bar.High > bar.Low {
			r.whisker("whisker", bar.Low, bar.High, y)
		}
	}
	r.line("axis", r.left, r.top, r.left, r.bottom)
	return r.finish("bars")
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
	Tip                           string
}

// SVG draws the chart.
func (c Intervals) SVG() template.HTML {
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
	r := newRows(c.Frame, c.X, from, to, names, texts)
	if c.Reference >= from && c.Reference <= to {
		x := r.x.at(c.Reference)
		r.line("centre", x, r.top-2, x, r.bottom)
		r.text("end", x, r.top-6, middle, c.ReferenceText)
	}
	for i, row := range c.Rows {
		c.row(r, r.middle(i), row)
	}
	return r.finish("intervals")
}

func (c Intervals) row(r rows, y float64, row Interval) {
	shift := 0.0
	if !math.IsNaN(row.Second) {
		shift = 5
		if row.SecondLow <= row.SecondHigh {
			r.whisker("whisker second", row.SecondLow, row.SecondHigh, y+shift)
		}
		r.diamond("point second", r.x.held(row.Second), y+shift, 4.2, row.Tip)
	}
	if math.IsNaN(row.Value) {
		return
	}
	if row.Low <= row.High {
		r.whisker("whisker", row.Low, row.High, y-shift)
	}
	r.dot("point", r.x.held(row.Value), y-shift, 4, row.Tip)
}

// Spreads compares distributions, one a row, by what lies between their
// quantiles; each row may have limits of its own.
type Spreads struct {
	Frame
	X    Axis
	Rows []Spread
}

// Spread is one row: least, 5 %, 25 %, middle, 75 %, 95 %, most.
type Spread struct {
	Name                                 string
	Least, P5, P25, P50, P75, P95, Most  float64
	Lower, Upper, GuardLower, GuardUpper float64 // limits, NaN for none; widths of the guard bands
	Text                                 string
	Tip                                  string
}

// SVG draws the chart.
func (c Spreads) SVG() template.HTML {
	var names, texts []string
	var ends []float64
	for _, row := range c.Rows {
		names, texts = append(names, row.Name), append(texts, row.Text)
		ends = append(ends, row.Least, row.Most, row.Lower, row.Upper)
	}
	from, to := c.X.span(ends...)
	r := newRows(c.Frame, c.X, from, to, names, texts)
	r.hatch("guard")
	for i, row := range c.Rows {
		row.draw(r, r.middle(i))
	}
	return r.finish("spreads")
}

func (row Spread) draw(r rows, y float64) {
	high := rowHigh - 4
	for _, limit := range [][2]float64{{row.Upper, row.Upper - row.GuardUpper}, {row.Lower, row.Lower + row.GuardLower}} {
		if !math.IsNaN(limit[0]) {
			x, guard := r.x.held(limit[0]), r.x.held(limit[1])
			r.hatched("guard", min(x, guard), y-high/2, math.Abs(guard-x), high, "")
			r.line("limit", x, y-high/2, x, y+high/2)
		}
	}
	if math.IsNaN(row.P50) {
		return
	}
	r.line("thin", r.x.held(row.Least), y, r.x.held(row.Most), y)
	r.line("thick", r.x.held(row.P5), y, r.x.held(row.P95), y)
	a, b := r.x.held(row.P25), r.x.held(row.P75)
	r.box("quartiles", a, y-6, max(b-a, 1), 12, row.Tip)
	x := r.x.held(row.P50)
	r.line("median", x, y-6, x, y+6)
}
