package chart

import (
	"encoding/json"
	"fmt"
	"html"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"
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
	// Spec are limits of the product. One that is so far off that nothing would be
	// left of the points is named at the edge it lies beyond.
	Spec []Named
	// Behind is the address of the runs behind points, up to their numbers; empty for none.
	Behind string
	// Zoom is the parameter of the page's address that takes the runs of a part; empty for none.
	Zoom string
}

// Point is one point of a control chart.
type Point struct {
	Value                float64 // NaN leaves a gap
	Lower, Centre, Upper float64 // NaN for none
	Name                 string  // below the chart, where there is room
	Tip                  string
	// Signal numbers what the point signals, 0 for nothing.
	Signal int
	Runs   [2]int64 // numbers of the first and the last run behind it; 0 for none
	Link   string   // in place of [Control.Behind] and its runs
	// Day names the day that begins with this point; empty: it is that of the point before.
	Day string
	// Apart says that nothing was tested for long before: no line leads here.
	Apart bool
}

// Named is a value with its name, such as a limit.
type Named struct {
	Value float64
	Text  string
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
	return c.both(func(f Frame) template.HTML {
		c.Frame = f
		return c.draw()
	})
}

func (c Control) draw() template.HTML {
	p := c.plot()
	p.x = scale{from: -0.5, to: float64(max(len(c.Points), 1)) - 0.5, start: p.left, end: p.right}
	c.baseline(p)
	c.limits(p)
	c.spec(p)
	c.events(p)
	c.points(p)
	c.baselineNote(p)
	c.names(p)
	p.base(c.X.Label)
	p.pointed(c.Zoom)
	return p.finish("control")
}

func (c Control) plot() plot {
	from, to := c.Y.span(append(c.values(), c.nearSpec()...)...)
	return newPlot(c.Frame, c.Y, from, to, c.rightEdge())
}

// Align gives the panels of a page the same room at both sides, so that what
// happened at one time stands above each other.
func Align(panels ...*Control) {
	left, right := 0.0, 0.0
	for _, c := range panels {
		wide := *c
		wide.shape = "wide"
		p := wide.plot()
		left, right = max(left, p.left), max(right, c.rightEdge())
	}
	for _, c := range panels {
		c.Frame.left, c.Frame.right = left, right
	}
}

// Part is what the chart shows of the points whose runs lie between two numbers. Its
// limits are those of the whole.
func (c Control) Part(first, last int64) Control {
	from := slices.IndexFunc(c.Points, func(q Point) bool { return q.Runs[1] >= first })
	if from < 0 {
		from = len(c.Points)
	}
	to := from
	for to < len(c.Points) && c.Points[to].Runs[0] <= last {
		to++
	}
	c.Points, c.Baseline = c.Points[from:to], max(0, min(c.Baseline, to)-from)
	events := []Event{}
	for _, e := range c.Events {
		if e.Before > from && e.Before < to {
			e.Before -= from
			events = append(events, e)
		}
	}
	c.Events = events
	return c
}

// pointed tells a script where the plot lies and which parameter a part of it is.
func (p *plot) pointed(zoom string) {
	if zoom != "" {
		p.about = fmt.Sprintf(` data-zoom="%s" data-plot="%s %s %s %s"`, html.EscapeString(zoom), at(p.left), at(p.top), at(p.right), at(p.bottom))
	}
}

func (c Control) values() []float64 {
	var all []float64
	for _, q := range c.Points {
		all = append(all, q.Value, q.Lower, q.Centre, q.Upper)
	}
	return all
}

// nearSpec are the limits of the product that leave room for the points.
func (c Control) nearSpec() (near []float64) {
	values := slices.DeleteFunc(c.values(), math.IsNaN)
	if len(values) == 0 {
		return nil
	}
	least, most := slices.Min(values), slices.Max(values)
	for _, s := range c.Spec {
		if wide := most - least; s.Value >= least-wide && s.Value <= most+wide {
			near = append(near, s.Value)
		}
	}
	return near
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
	p.box("baseline", p.left, p.top, end-p.left, p.bottom-p.top)
}

func (c Control) baselineNote(p plot) {
	if c.Baseline > 0 && len(c.Points) > 0 {
		y := p.bottom - 7
		if low := c.Points[0].Lower; !math.IsNaN(low) && math.Abs(p.y.held(low)-y) < lineHigh {
			y = p.y.held(low) - 6
		}
		p.text("note haloed", p.left+6, y, left, fit(c.BaselineText, p.right-p.left-8))
	}
}

// limits steps from point to point, as limits differ with the size of a sample.
func (c Control) limits(p plot) {
	pick := []func(Point) float64{
		func(q Point) float64 { return q.Upper },
		func(q Point) float64 { return q.Centre },
		func(q Point) float64 { return q.Lower },
	}
	var texts []string
	var heights []float64
	for i, class := range []string{"limit", "centre", "limit"} {
		last := c.steps(p, class, pick[i])
		if c.LimitText[i] != "" && !math.IsNaN(last) {
			texts, heights = append(texts, c.LimitText[i]), append(heights, p.y.held(last)+4)
		}
	}
	for i, y := range spaced(heights, lineHigh, p.top, p.bottom+4) {
		p.text("end", p.right+6, y, left, texts[i])
	}
	if !c.Zones {
		return
	}
	for _, third := range []float64{1. / 3, 2. / 3} {
		c.steps(p, "zone", func(q Point) float64 { return q.Centre + third*(q.Upper-q.Centre) })
		c.steps(p, "zone", func(q Point) float64 { return q.Centre - third*(q.Centre-q.Lower) })
	}
}

// lineHigh is how far apart lines of text stand.
const lineHigh = 13.0

// spec draws the limits of the product, or says at the edge where they are.
func (c Control) spec(p plot) {
	above, below := p.top+12, p.bottom-7
	if n := len(c.Points); n > 0 && math.Abs(p.y.held(c.Points[n-1].Upper)-above+4) < lineHigh {
		above = p.y.held(c.Points[n-1].Upper) + 15 // under the line, not on it
	}
	for _, s := range c.Spec {
		switch {
		case s.Value > p.y.to:
			p.text("end haloed", p.left+6, above, left, "↑ "+s.Text)
			above += lineHigh
		case s.Value < p.y.from:
			p.text("end haloed", p.right-6, below, right, "↓ "+s.Text)
			below -= lineHigh
		default:
			y := p.y.at(s.Value)
			p.line("spec", p.left, y, p.right, y)
			at := y - 4
			if at < p.top+10 {
				at = y + 13
			}
			p.text("end haloed", p.right-6, at, right, s.Text)
		}
	}
}

func (c Control) steps(p plot, class string, pick func(Point) float64) (last float64) {
	var line []point
	last = math.NaN()
	for i, q := range c.Points {
		now := pick(q)
		y := math.NaN()
		if !math.IsNaN(now) {
			y, last = p.y.held(now), now
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
		p.spot(Spot{Tip: e.Tip}, func() {
			p.box("flag", flag-wide/2, p.top-12, wide, 14)
			p.text("flagged", flag, p.top-1, middle, e.Mark)
		})
		free = flag + wide/2
	}
}

// names writes what stands below the points: their days, where they go over more than
// a few, else their own names.
func (c Control) names(p plot) {
	var days, places []float64
	var named, names []string
	for i, q := range c.Points {
		x := p.x.at(float64(i))
		places, names = append(places, x), append(names, q.Name)
		if q.Day != "" {
			days, named = append(days, p.x.at(float64(i)-0.5)), append(named, q.Day)
		}
	}
	if len(days) <= fewDays {
		p.names(places, names)
		return
	}
	free := math.Inf(-1)
	for i, x := range days {
		p.line("day", x, p.top, x, p.bottom+4)
		if x-textWidth(named[i])/2 < free || x+textWidth(named[i])/2 > p.Width {
			continue
		}
		p.text("value", p.inside(x, named[i]), p.bottom+16, middle, named[i])
		free = x + textWidth(named[i])/2 + 10
	}
}

// fewDays are told by the names of their points.
const fewDays = 3

func (c Control) points(p plot) {
	var line, all []point
	for i, q := range c.Points {
		at := point{p.x.at(float64(i)), p.y.held(q.Value)}
		if math.IsNaN(q.Value) {
			at.y = math.NaN()
		}
		if q.Apart {
			line = append(line, point{at.x, math.NaN()})
		}
		line, all = append(line, at), append(all, at)
	}
	p.path("series", line)
	for i, q := range c.Points {
		switch at := all[i]; {
		case math.IsNaN(at.y):
		case q.Signal > 0:
			p.spot(c.behind(q), func() { p.diamond("signal", at.x, at.y, 5.5) })
			if i == 0 || c.Points[i-1].Signal != q.Signal {
				c.numbered(p, at, q.Signal)
			}
		case len(c.Points) < many:
			p.spot(c.behind(q), func() { p.dot("point", at.x, at.y, 2.6) })
		}
	}
	if len(c.Points) >= many {
		c.told(p, all)
	}
}

func (c Control) behind(q Point) Spot {
	s := Spot{Tip: q.Tip}
	if q.Runs == [2]int64{} {
		return s
	}
	if c.Zoom != "" {
		s.From, s.To = strconv.FormatInt(q.Runs[0], 10), strconv.FormatInt(q.Runs[1], 10)
	}
	if s.Link = q.Link; s.Link == "" && c.Behind != "" {
		s.Link = fmt.Sprintf("%s%d-%d", c.Behind, q.Runs[0], q.Runs[1])
	}
	return s
}

// told lists what many points say, for a script: they have no marks of their own.
// Where several lie on one place the one farthest from the centre speaks.
func (c Control) told(p plot, all []point) {
	type one struct {
		i    int
		away float64
	}
	var list []one
	for i, q := range c.Points {
		if math.IsNaN(all[i].y) || q.Signal > 0 {
			continue
		}
		now := one{i, math.Abs(q.Value - q.Centre)}
		if last := len(list) - 1; last >= 0 && math.Floor(all[list[last].i].x) == math.Floor(all[i].x) {
			if now.away > list[last].away {
				list[last] = now
			}
			continue
		}
		list = append(list, now)
	}
	var out []string
	for _, o := range list {
		s := c.behind(c.Points[o.i])
		row, err := json.Marshal([]any{math.Round(all[o.i].x*10) / 10, math.Round(all[o.i].y*10) / 10, s.Tip, s.From, s.To})
		if err == nil {
			out = append(out, string(row))
		}
	}
	fmt.Fprintf(&p.body, `<metadata data-behind="%s">[%s]</metadata>`, html.EscapeString(c.Behind), html.EscapeString(strings.Join(out, ",")))
}

// numbered writes which signal it is beside the first point that has it, on the side with room.
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
