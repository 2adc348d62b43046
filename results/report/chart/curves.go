package chart

import (
	"fmt"
	"html/template"
	"math"
	"slices"
)

// Curves draws lines and points over a scale: operating characteristics,
// cumulative shares, probability plots, values over time.
type Curves struct {
	Frame
	X, Y   Axis
	Curves []Curve
	Marks  []Mark
	// XNames stand below the plot in place of the values along it.
	XNames []Name
	// Lines across the whole plot, upright at X or level at Y.
	Across []Across
	// Zoom is the parameter of the page's address that takes a part, "days"; empty for none.
	Zoom string
}

// Curve is one line, or one set of points. Curves differ in dashes and are
// named at their ends.
type Curve struct {
	Name   string
	X, Y   []float64
	Quiet  bool // one of many beside those that matter: it has no kind of its own
	Points bool // dots in place of a line
	Both   bool // a line with dots
	// Low and High are a band around Y, nil for none: whiskers for points, a
	// filled band for lines.
	Low, High []float64
	Tips      []string
	// Spots are what stands behind the points, in place of tips; nil for none.
	Spots []Spot
	// N are the units behind each point, for [Frame.Few]; nil for not known.
	N []int
}

// Level is a point of a curve with its band.
type Level struct{ X, Y, Low, High float64 }

// Gap is a place where there is nothing: no line goes through it.
func Gap(x float64) Level { return Level{x, math.NaN(), math.NaN(), math.NaN()} }

// Add puts a point at the end of a curve.
func (c *Curve) Add(at Level, behind Spot, n int) {
	c.X, c.Y, c.Low, c.High = append(c.X, at.X), append(c.Y, at.Y), append(c.Low, at.Low), append(c.High, at.High)
	c.Spots, c.N = append(c.Spots, behind), append(c.N, n)
}

// Mark is a point that is spoken of.
type Mark struct {
	X, Y float64
	Text string
}

// Name is a text at a place below the plot.
type Name struct {
	X    float64
	Text string
}

// Across is a line through the whole plot; the other value is NaN.
type Across struct {
	X, Y float64
	Text string
	// Kind is its class: "limit", "centre" or "event".
	Kind string
}

// curveKinds is how many curves differ in their dashes.
const curveKinds = 4

// SVG draws the chart.
func (c Curves) SVG() template.HTML {
	return c.both(func(f Frame) template.HTML {
		c.Frame = f
		return c.draw()
	})
}

func (c Curves) draw() template.HTML {
	var small string
	c.Curves, small = c.large()
	var xs, ys []float64
	for _, one := range c.Curves {
		xs, ys = append(xs, one.X...), append(append(append(ys, one.Y...), one.Low...), one.High...)
	}
	for _, a := range c.Across {
		xs, ys = append(xs, a.X), append(ys, a.Y)
	}
	yFrom, yTo := c.Y.span(ys...)
	p := newPlot(c.Frame, c.Y, yFrom, yTo, c.rightEdge())
	xFrom, xTo := c.X.span(xs...)
	p.x = scale{from: xFrom, to: xTo, start: p.left, end: p.right, log: c.X.Log}
	c.labels(p)
	c.across(p)
	for i, one := range slices.Backward(c.Curves) { // the first ones matter most
		one.draw(p, i%curveKinds)
	}
	c.ends(p)
	for _, m := range c.Marks {
		x, y := p.x.held(m.X), p.y.held(m.Y)
		p.diamond("signal", x, y, 5)
		anchor, gap := left, 9.0
		if x+9+textWidth(m.Text) > p.right {
			anchor, gap = right, -9
		}
		p.text("signalled", x+gap, y+4, anchor, m.Text)
	}
	p.pointed(c.Zoom)
	p.below(small)
	return p.finish("curves")
}

// large leaves out points of few units, and names them. Where all are small there is
// no scale to be kept, and all are drawn.
func (c Curves) large() (out []Curve, words string) {
	var names []string
	all := 0
	for _, one := range c.Curves {
		if one.N == nil {
			return c.Curves, ""
		}
		one.Y, one.Low, one.High = slices.Clone(one.Y), slices.Clone(one.Low), slices.Clone(one.High)
		for i, n := range one.N {
			if math.IsNaN(one.Y[i]) {
				continue
			}
			if all++; n < c.Few.Least {
				one.Y[i] = math.NaN()
				if len(one.Low) > i && len(one.High) > i {
					one.Low[i], one.High[i] = math.NaN(), math.NaN()
				}
				names = append(names, fmt.Sprintf("%s (n %d)", c.nameAt(one.X[i]), n))
			}
		}
		out = append(out, one)
	}
	if len(names) == all {
		return c.Curves, ""
	}
	return out, c.Few.named(names)
}

func (c Curves) nameAt(x float64) string {
	for _, n := range c.XNames {
		if n.X == x {
			return n.Text
		}
	}
	return c.number(0, x)
}

func (c Curves) rightEdge() float64 {
	edge := edgeRight
	for _, one := range c.Curves {
		edge = max(edge, textWidth(one.Name)+16)
	}
	return min(edge, c.Width*0.35)
}

func (c Curves) labels(p plot) {
	if c.XNames == nil {
		p.xLabels(c.X)
		return
	}
	places, texts := make([]float64, len(c.XNames)), make([]string, len(c.XNames))
	for i, n := range c.XNames {
		places[i], texts[i] = p.x.at(n.X), n.Text
	}
	p.names(places, texts)
	p.base(c.X.Label)
}

func (c Curves) across(p plot) {
	var texts []string
	var heights []float64
	for _, a := range c.Across {
		if !math.IsNaN(a.X) {
			x := p.x.held(a.X)
			p.line(a.Kind, x, p.top, x, p.bottom)
			p.beside("end haloed", x, 4, p.top+11, a.Text)
			continue
		}
		y := p.y.held(a.Y)
		p.line(a.Kind, p.left, y, p.right, y)
		if a.Text != "" {
			texts, heights = append(texts, a.Text), append(heights, y-4)
		}
	}
	for i, y := range spaced(heights, lineHigh, p.top+10, p.bottom-4) {
		p.text("end haloed", p.left+5, y, left, texts[i])
	}
}

// ends names each curve at its last point, apart from the others.
func (c Curves) ends(p plot) {
	var texts, kinds []string
	var heights []float64
	for i, one := range c.Curves {
		last := slices.IndexFunc(reversed(one.Y), func(y float64) bool { return !math.IsNaN(y) })
		if one.Name == "" || last < 0 {
			continue
		}
		texts, kinds = append(texts, fit(one.Name, p.Width-p.right-8)), append(kinds, "c"+string(rune('1'+i%curveKinds)))
		heights = append(heights, p.y.held(one.Y[len(one.Y)-1-last])+4)
	}
	for i, y := range spaced(heights, lineHigh, p.top+4, p.bottom+4) {
		p.text("end "+kinds[i], p.right+8, y, left, texts[i])
	}
}

func reversed(list []float64) []float64 {
	list = slices.Clone(list)
	slices.Reverse(list)
	return list
}

func (c Curve) draw(p plot, kind int) {
	class := "c" + string(rune('1'+kind))
	if c.Quiet {
		class, kind = "quiet", 0
	}
	places := make([]point, len(c.X))
	for i := range c.X {
		places[i] = point{p.x.held(c.X[i]), p.y.held(c.Y[i])}
		if math.IsNaN(c.Y[i]) {
			places[i].y = math.NaN()
		}
	}
	c.band(p, class)
	if !c.Points {
		p.path("curve "+class, places)
	}
	if !c.Points && !c.Both {
		return
	}
	for i, q := range places {
		if math.IsNaN(q.y) {
			continue
		}
		p.spot(c.spotAt(i), func() {
			if kind%2 == 1 {
				p.diamond("point "+class, q.x, q.y, 3.4)
			} else {
				p.dot("point "+class, q.x, q.y, 2.8)
			}
		})
	}
}

func (c Curve) spotAt(i int) Spot {
	switch {
	case i < len(c.Spots):
		return c.Spots[i]
	case i < len(c.Tips):
		return Spot{Tip: c.Tips[i]}
	}
	return Spot{}
}

func (c Curve) band(p plot, class string) {
	if len(c.Low) != len(c.X) || len(c.High) != len(c.X) {
		return
	}
	if c.Points || c.Both {
		for i := range c.X {
			if !math.IsNaN(c.Low[i]) && !math.IsNaN(c.High[i]) {
				x := p.x.held(c.X[i])
				p.line("whisker "+class, x, p.y.held(c.Low[i]), x, p.y.held(c.High[i]))
			}
		}
		return
	}
	var edge []point
	for i := range c.X {
		edge = append(edge, point{p.x.held(c.X[i]), p.y.held(c.High[i])})
	}
	for i := len(c.X) - 1; i >= 0; i-- {
		edge = append(edge, point{p.x.held(c.X[i]), p.y.held(c.Low[i])})
	}
	p.area("band "+class, edge)
}
