package chart

import (
	"html/template"
	"math"
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
}

// Curve is one line, or one set of points. Curves differ in dashes and are
// named at their ends.
type Curve struct {
	Name   string
	X, Y   []float64
	Points bool // dots in place of a line
	Both   bool // a line with dots
	// Low and High are a band around Y, nil for none: whiskers for points, a
	// filled band for lines.
	Low, High []float64
	Tips      []string
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
	for i, one := range c.Curves {
		one.draw(p, i%curveKinds)
	}
	c.ends(p)
	for _, m := range c.Marks {
		x, y := p.x.held(m.X), p.y.held(m.Y)
		p.diamond("signal", x, y, 5, m.Text)
		anchor, gap := left, 9.0
		if x+9+textWidth(m.Text) > p.right {
			anchor, gap = right, -9
		}
		p.text("signalled", x+gap, y+4, anchor, m.Text)
	}
	return p.finish("curves")
}

func (c Curves) rightEdge() float64 {
	edge := edgeRight
	for _, one := range c.Curves {
		edge = max(edge, textWidth(one.Name)+16)
	}
	return min(edge, c.Width*0.3)
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
	for _, a := range c.Across {
		if !math.IsNaN(a.X) {
			x := p.x.held(a.X)
			p.line(a.Kind, x, p.top, x, p.bottom)
			p.beside("end", x, 4, p.top+11, a.Text)
			continue
		}
		y := p.y.held(a.Y)
		p.line(a.Kind, p.left, y, p.right, y)
		p.text("end", p.left+5, y-4, left, a.Text)
	}
}

// ends names each curve at its last point, apart from the others.
func (c Curves) ends(p plot) {
	taken := []float64{}
	for i, one := range c.Curves {
		if one.Name == "" || len(one.Y) == 0 {
			continue
		}
		y := p.y.held(one.Y[len(one.Y)-1]) + 4
		for clash := true; clash; {
			clash = false
			for _, t := range taken {
				if math.Abs(t-y) < 13 {
					y, clash = t-13.5, true
				}
			}
		}
		taken = append(taken, y)
		p.text("end c"+string(rune('1'+i%curveKinds)), p.right+8, y, left, one.Name)
	}
}

func (c Curve) draw(p plot, kind int) {
	class := "c" + string(rune('1'+kind))
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
		tip := ""
		if i < len(c.Tips) {
			tip = c.Tips[i]
		}
		if math.IsNaN(q.y) {
			continue
		}
		if kind%2 == 1 {
			p.diamond("point "+class, q.x, q.y, 3.4, tip)
		} else {
			p.dot("point "+class, q.x, q.y, 2.8, tip)
		}
	}
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
