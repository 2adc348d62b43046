package chart

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
)

// Control is a control chart: points in their order, held against limits.
type Control struct {
	Frame
	X, Y   Axis
	Points []Point
	// Baseline is how many of the first points the limits were computed from.
	Baseline     int
	BaselineText string
	Events       []Event
	// Zones draws lines at one and two thirds of the way to the limits too.
	Zones bool
	// LimitText names the lines at their right end: upper, centre, lower.
	LimitText [3]string
}

// Point is one point of a control chart.
type Point struct {
	Value                float64 // NaN leaves a gap
	Lower, Centre, Upper float64 // NaN for none
	Name                 string  // below the chart, where there is room
	Tip                  string
	// Signal numbers what the point signals, 0 for nothing.
	Signal int
}

// Event is something that happened before a point.
type Event struct {
	Before int    // index of the first point after it
	Mark   string // one or two characters; explained beside the chart
	Tip    string
}

// many is from how many points on those without a signal are drawn as a line only.
const many = 400

// SVG draws the chart.
func (c Control) SVG() template.HTML {
	from, to := c.Y.span(c.values()...)
	p := newPlot(c.Frame, c.Y, from, to, c.rightEdge())
	p.x = scale{from: -0.5, to: float64(max(len(c.Points), 1)) - 0.5, start: p.left, end: p.right}
	c.baseline(p)
	c.limits(p)
	c.events(p)
	c.points(p)
	c.baselineNote(p)
	places, names := make([]float64, len(c.Points)), make([]string, len(c.Points))
	for i, q := range c.Points {
		places[i], names[i] = p.x.at(float64(i)), q.Name
	}
	p.names(places, names)
	p.base(c.X.Label)
	return p.finish("control")
}

func (c Control) values() []float64 {
	var all []float64
	for _, q := range c.Points {
		all = append(all, q.Value, q.Lower, q.Centre, q.Upper)
	}
	return all
}

func (c Control) rightEdge() float64 {
	edge := edgeRight
	for _, text := range c.LimitText {
		edge = max(edge, textWidth(text)+12)
	}
	return edge
}

func (c Control) baseline(p plot) {
	if c.Baseline <= 0 || len(c.Points) == 0 {
		return
	}
	end := p.x.held(float64(min(c.Baseline, len(c.Points))) - 0.5)
	p.box("baseline", p.left, p.top, end-p.left, p.bottom-p.top, c.BaselineText)
}

func (c Control) baselineNote(p plot) {
	if c.Baseline > 0 {
		p.text("note haloed", p.left+6, p.bottom-7, left, c.BaselineText)
	}
}

// limits steps from point to point, as limits differ with the size of a sample.
func (c Control) limits(p plot) {
	pick := []func(Point) float64{
		func(q Point) float64 { return q.Upper },
		func(q Point) float64 { return q.Centre },
		func(q Point) float64 { return q.Lower },
	}
	for i, class := range []string{"limit", "centre", "limit"} {
		last := c.steps(p, class, pick[i])
		if c.LimitText[i] != "" && !math.IsNaN(last) {
			p.text("end", p.right+6, p.y.held(last)+4, left, c.LimitText[i])
		}
	}
	if !c.Zones {
		return
	}
	for _, third := range []float64{1. / 3, 2. / 3} {
		c.steps(p, "zone", func(q Point) float64 { return q.Centre + third*(q.Upper-q.Centre) })
		c.steps(p, "zone", func(q Point) float64 { return q.Centre - third*(q.Centre-q.Lower) })
	}
}

func (c Control) steps(p plot, class string, pick func(Point) float64) (last float64) {
	var line []point
	last = math.NaN()
	for i, q := range c.Points {
		last = pick(q)
		y := math.NaN()
		if !math.IsNaN(last) {
			y = p.y.held(last)
		}
		line = append(line, point{p.x.at(float64(i) - 0.5), y}, point{p.x.at(float64(i) + 0.5), y})
	}
	line = thinned(line)
	if len(line) > 2 {
		class += " stepped"
	}
	p.path(class, line)
	return last
}

// thinned leaves out points in the middle of a level line.
func thinned(line []point) []point {
	if len(line) < 3 {
		return line
	}
	out := line[:1:1]
	for i := 1; i < len(line)-1; i++ {
		if line[i].y == line[i-1].y && line[i].y == line[i+1].y {
			continue
		}
		out = append(out, line[i])
	}
	return append(out, line[len(line)-1])
}

func (c Control) events(p plot) {
	free := math.Inf(-1)
	for _, e := range c.Events {
		x := p.x.held(float64(e.Before) - 0.5)
		p.line("event", x, p.top-2, x, p.bottom)
		wide := textWidth(e.Mark) + 8
		flag := max(x, free+wide/2+1)
		if flag > x+3*wide {
			continue // the line is there; the mark would stand at another
		}
		p.box("flag", flag-wide/2, p.top-12, wide, 14, e.Tip)
		p.text("flagged", flag, p.top-1, middle, e.Mark)
		free = flag + wide/2
	}
}

func (c Control) points(p plot) {
	line := make([]point, len(c.Points))
	for i, q := range c.Points {
		line[i] = point{p.x.at(float64(i)), p.y.held(q.Value)}
		if math.IsNaN(q.Value) {
			line[i].y = math.NaN()
		}
	}
	p.path("series", line)
	for i, q := range c.Points {
		switch at := line[i]; {
		case math.IsNaN(at.y):
		case q.Signal > 0:
			p.diamond("signal", at.x, at.y, 5.5, q.Tip)
			c.numbered(p, at, q.Signal)
		case len(c.Points) < many:
			p.dot("point", at.x, at.y, 2.6, q.Tip)
		}
	}
}

// numbered writes which signal it is beside its point, on the side with room.
func (c Control) numbered(p plot, at point, signal int) {
	if len(c.Points) >= many {
		return
	}
	y := at.y - 8
	if y < p.top+8 {
		y = at.y + 17
	}
	p.text("signalled", at.x, y, middle, strconv.Itoa(signal))
}

// Describe counts what a reader of the picture would count, for Desc: the words
// are the caller's, with %d for points and signals.
func (c Control) Describe(words string) string {
	signals := 0
	for _, q := range c.Points {
		if q.Signal > 0 {
			signals++
		}
	}
	return fmt.Sprintf(words, len(c.Points), signals)
}
