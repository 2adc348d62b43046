package chart

import (
	"html/template"
	"math"
	"slices"
)

// Distribution is how often values occur, beside the limits they must keep to.
type Distribution struct {
	Frame
	X, Y Axis // Y says what is counted
	Bins []Bin
	// Lower and Upper are the limits, NaN for none; the guard bands lie within.
	Lower, Upper           float64
	GuardLower, GuardUpper float64 // widths, 0 for none
	LimitText              [2]string
	// Also are other values to be seen, such as the limit in force beside one
	// on trial; their X counts.
	Also []Across
	// Beyond is said at the right end: how many values lie further out.
	Beyond string
}

// Bin counts the values from Low to below High.
type Bin struct {
	Low, High float64
	Count     float64
	Tip, Link string
}

// SVG draws the chart. Bars have areas in proportion to counts; where not all bins
// are equally wide, the axis of counts is that of the usual ones.
func (d Distribution) SVG() template.HTML {
	return d.both(func(f Frame) template.HTML {
		d.Frame = f
		return d.draw()
	})
}

func (d Distribution) draw() template.HTML {
	from, to := d.X.span(d.ends()...)
	heights := d.heights(scale{from: from, to: to, end: 1000, log: d.X.Log})
	d.Y.Whole = true
	p := newPlot(d.Frame, d.Y, 0, max(slices.Max(append(heights, 1))*1.12, 2), edgeRight)
	p.x = scale{from: from, to: to, start: p.left, end: p.right, log: d.X.Log}
	p.xLabels(d.X)
	d.guards(p)
	d.bars(p, heights)
	d.limits(p)
	d.also(p)
	if d.Beyond != "" {
		p.text("note haloed", p.right, p.top+27, right, d.Beyond)
	}
	return p.finish("distribution")
}

func (d Distribution) ends() []float64 {
	all := []float64{d.Lower, d.Upper}
	for _, a := range d.Also {
		all = append(all, a.X)
	}
	for _, b := range d.Bins {
		if b.Count > 0 {
			all = append(all, b.Low, b.High)
		}
	}
	return all
}

// heights are the counts, as if every bin were as wide as the usual one.
func (d Distribution) heights(x scale) []float64 {
	wide := make([]float64, len(d.Bins))
	var all []float64
	for i, b := range d.Bins {
		if b.Count > 0 && (!x.log || b.High > 0) {
			wide[i] = x.at(b.High) - foot(x, b)
			all = append(all, wide[i])
		}
	}
	if len(all) == 0 {
		return wide
	}
	slices.Sort(all)
	usual := all[len(all)/2]
	for i, b := range d.Bins {
		if wide[i] > 0 {
			wide[i] = b.Count * usual / wide[i]
		}
	}
	return wide
}

func (d Distribution) bars(p plot, heights []float64) {
	for i, b := range d.Bins {
		if heights[i] == 0 {
			continue
		}
		class := "bar"
		if b.Low >= d.Upper || b.High <= d.Lower {
			class = "bar out"
		}
		x, high := foot(p.x, b), max(p.bottom-p.y.held(heights[i]), 1)
		p.spot(Spot{Tip: b.Tip, Link: b.Link}, func() {
			p.box(class, x, p.bottom-high, max(p.x.held(b.High)-x-0.4, 0.8), high)
		})
	}
}

// foot is where a bar begins: a bin from 0 on has no place on a scale of ratios.
func foot(x scale, b Bin) float64 {
	if x.log && b.Low <= 0 {
		return x.start
	}
	return x.held(b.Low)
}

func (d Distribution) guards(p plot) {
	p.hatch("guard")
	if d.GuardUpper > 0 && !math.IsNaN(d.Upper) {
		x := p.x.held(d.Upper - d.GuardUpper)
		p.hatched("guard", x, p.top, p.x.held(d.Upper)-x, p.bottom-p.top)
	}
	if d.GuardLower > 0 && !math.IsNaN(d.Lower) {
		x := p.x.held(d.Lower)
		p.hatched("guard", x, p.top, p.x.held(d.Lower+d.GuardLower)-x, p.bottom-p.top)
	}
}

func (d Distribution) limits(p plot) {
	taken := math.Inf(-1) // up to where a text stands on the first line
	for i, v := range []float64{d.Lower, d.Upper} {
		if math.IsNaN(v) || math.IsInf(v, 0) || v < p.x.from || v > p.x.to {
			continue
		}
		x := p.x.at(v)
		p.line("limit", x, p.top, x, p.bottom)
		if d.LimitText[i] == "" {
			continue
		}
		wide := textWidth(d.LimitText[i])
		anchor, gap, begins, y := right, -5.0, x-5-wide, p.top+11
		if i == 0 && x+5+wide < p.right || x-wide < p.left {
			anchor, gap, begins = left, 5, x+5
		}
		if begins < taken {
			y += lineHigh
		}
		taken = begins + wide + 4
		p.text("end haloed", x+gap, y, anchor, d.LimitText[i])
	}
}

func (d Distribution) also(p plot) {
	for i, a := range d.Also {
		if a.X < p.x.from || a.X > p.x.to {
			continue
		}
		x := p.x.at(a.X)
		p.line(a.Kind, x, p.top, x, p.bottom)
		p.beside("end haloed", x, 5, p.top+27+15*float64(i), a.Text)
	}
}
