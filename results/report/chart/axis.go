package chart

import (
	"math"
	"strings"
)

// Axis says what is along one side of a chart.
type Axis struct {
	Label string // with its unit
	// Log spaces equal ratios equally; all values must be above 0.
	Log bool
	// From and To are the ends. Both 0: as the values need it.
	From, To float64
	// Most is an end that no value can pass, such as 100 of shares; 0 for none.
	Most float64
	// Whole marks whole values only: counts.
	Whole bool
}

// scale turns values into places on the sheet.
type scale struct {
	from, to   float64 // values at the ends
	start, end float64 // places of the ends
	log, whole bool
}

func (a scale) at(v float64) float64 {
	if a.log {
		return a.start + (a.end-a.start)*math.Log(v/a.from)/math.Log(a.to/a.from)
	}
	return a.start + (a.end-a.start)*(v-a.from)/(a.to-a.from)
}

// held is at, kept within the ends.
func (a scale) held(v float64) float64 {
	return a.at(min(max(v, a.from), a.to))
}

// span finds ends that hold all values, with some air; not finite ones are
// left out.
func (a Axis) span(values ...float64) (from, to float64) {
	if a.From != a.To {
		return a.From, a.To
	}
	from, to = math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) || a.Log && v <= 0 {
			continue
		}
		from, to = min(from, v), max(to, v)
	}
	switch {
	case from > to && a.Log:
		return 1, 10
	case from > to:
		return 0, 1
	case a.Log:
		air := max(math.Pow(to/from, 0.04), 1.02)
		return from / air, to * air
	case from == to:
		return a.within(from, to, max(1, math.Abs(from)*0.1))
	}
	return a.within(from, to, (to-from)*0.05)
}

// within gives values some air, but none where no value can be.
func (a Axis) within(from, to, air float64) (lower, upper float64) {
	lower, upper = from-air, to+air
	if from >= 0 && from < to*nearNothing {
		lower = 0 // what has a natural zero not far away is shown from there
	}
	if to <= 0 && to > from*nearNothing {
		upper = 0
	}
	if a.Most != 0 && to <= a.Most {
		upper = min(upper, a.Most)
	}
	return lower, upper
}

// nearNothing is how small the least value is beside the largest when a scale begins at 0.
const nearNothing = 0.35

// tick is a marked value.
type tick struct {
	v      float64
	digits int
}

// ticks marks about n round values.
func (a scale) ticks(n int) []tick {
	if a.log && a.to/a.from > 3 {
		return a.logTicks(n)
	}
	step := roundStep((a.to - a.from) / float64(max(n, 1)))
	if a.whole {
		step = max(step, 1)
	}
	digits := digitsOf(step)
	var out []tick
	for i := math.Ceil(a.from/step - 1e-9); i*step <= a.to+step*1e-9; i++ {
		out = append(out, tick{i * step, digits})
	}
	return out
}

// roundStep is 1, 2 or 5 times a power of ten, not below the step asked for.
func roundStep(least float64) float64 {
	if !(least > 0) {
		return 1
	}
	power := math.Pow(10, math.Floor(math.Log10(least)))
	for _, f := range []float64{1, 2, 5} {
		if f*power >= least*(1-1e-9) {
			return f * power
		}
	}
	return 10 * power
}

func digitsOf(step float64) int {
	return max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
}

func (a scale) logTicks(n int) []tick {
	decades := math.Log10(a.to / a.from)
	parts := []float64{1}
	switch {
	case decades*3 <= float64(n):
		parts = []float64{1, 2, 5}
	case decades*2 <= float64(n):
		parts = []float64{1, 3}
	}
	every := max(1, math.Ceil(decades/float64(max(n, 1)))) // decades from mark to mark
	var out []tick
	for e := math.Floor(math.Floor(math.Log10(a.from))/every) * every; e <= math.Log10(a.to); e += every {
		for _, f := range parts {
			if v := f * math.Pow(10, e); v >= a.from*(1-1e-9) && v <= a.to*(1+1e-9) {
				out = append(out, tick{v, max(0, int(-e))})
			}
		}
	}
	return out
}

// plot is the part of a sheet that data lie in.
type plot struct {
	*sheet
	left, top, right, bottom float64
	x, y                     scale
}

// Edges around a plot.
const (
	edgeTop    = 26.0
	edgeBottom = 40.0
	edgeRight  = 14.0
)

// newPlot begins a sheet with a title and leaves room for the labels of both
// axes.
func newPlot(f Frame, y Axis, yFrom, yTo float64, rightEdge float64) plot {
	s := &sheet{Frame: f}
	top := edgeTop
	if f.Quiet || f.Title == "" {
		top = 12
	} else {
		s.text("heading", 2, 14, left, f.Title)
	}
	p := plot{sheet: s, top: top, right: f.Width - max(rightEdge, f.right), bottom: f.Height - edgeBottom}
	p.y = scale{from: yFrom, to: yTo, start: p.bottom, end: p.top, log: y.Log, whole: y.Whole}
	p.left = p.yLabels(y.Label)
	return p
}

// leftEdge is the room that the labels along the left side take.
func (p *plot) leftEdge(label string) float64 {
	edge := 12.0
	for _, t := range p.yTicks() {
		edge = max(edge, textWidth(p.number(t.digits, t.v))+12)
	}
	if label != "" {
		edge += 16
	}
	return max(edge, p.sheet.left)
}

func (p *plot) yTicks() []tick { return p.y.ticks(int((p.bottom - p.top) / 34)) }

// yLabels writes the values along the left side and gives the plot's left edge.
func (p *plot) yLabels(label string) float64 {
	edge := p.leftEdge(label)
	if label != "" {
		p.upright("label", 11, (p.top+p.bottom)/2, fit(label, p.bottom-p.top+20))
	}
	for _, t := range p.yTicks() {
		y := p.y.at(t.v)
		p.line("grid", edge, y, p.right, y)
		p.text("value", edge-6, y+4, right, p.number(t.digits, t.v))
	}
	return edge
}

// xTicks are as many as have air between their labels.
func (p *plot) xTicks() []tick {
	for n := max(int((p.right-p.left)/64), 2); ; n-- {
		ticks := p.x.ticks(n)
		if n == 1 || !p.crowded(ticks) {
			return ticks
		}
	}
}

func (p *plot) crowded(ticks []tick) bool {
	for i, t := range ticks[min(1, len(ticks)):] {
		last := ticks[i]
		if p.x.at(t.v)-p.x.at(last.v) < (textWidth(p.number(t.digits, t.v))+textWidth(p.number(last.digits, last.v)))/2+8 {
			return true
		}
	}
	return false
}

// xLabels writes values below the plot.
func (p *plot) xLabels(a Axis) {
	for _, t := range p.xTicks() {
		x, text := p.x.at(t.v), p.number(t.digits, t.v)
		p.line("grid", x, p.top, x, p.bottom)
		p.text("value", p.inside(x, text), p.bottom+15, middle, text)
	}
	p.base(a.Label)
}

// inside is the place nearest to x where the middle of a text can stand on the sheet.
func (p *plot) inside(x float64, text string) float64 {
	half := textWidth(text) / 2
	return max(min(x, p.Width-half), half)
}

// beside writes a text next to an upright line, on its right, or on its left where
// there is no room.
func (p *plot) beside(class string, x, gap, y float64, text string) {
	anchor := left
	if x+textWidth(text) > p.right {
		anchor, gap = right, -gap
	}
	p.text(class, x+gap, y, anchor, text)
}

// base draws the line below the plot and says what runs along it.
func (p *plot) base(label string) {
	p.line("axis", p.left, p.bottom, p.right, p.bottom)
	if label == "" {
		return
	}
	for i, line := range p.broken(label) {
		if i > 0 {
			p.Height += lineHigh
		}
		p.text("label", p.inside((p.left+p.right)/2, line), p.bottom+33+lineHigh*float64(i), middle, line)
	}
}

// broken is a text in as many lines as the sheet is wide for.
func (p *plot) broken(text string) (lines []string) {
	line := ""
	for _, word := range strings.Fields(text) {
		if line != "" && textWidth(line+" "+word) > p.Width-8 {
			lines, line = append(lines, line), ""
		}
		line = strings.TrimSpace(line + " " + word)
	}
	return append(lines, fit(line, p.Width-8))
}

// names writes texts below the plot, every one or every so many, as there is room.
func (p *plot) names(places []float64, texts []string) {
	every, free := stride(places, texts), math.Inf(-1)
	for i, text := range texts {
		half := textWidth(text) / 2
		if i%every != 0 || strings.TrimSpace(text) == "" || places[i]+half > p.Width || p.inside(places[i], text)-half < free {
			continue
		}
		free = p.inside(places[i], text) + half + 8
		p.line("axis", places[i], p.bottom, places[i], p.bottom+4)
		p.text("value", p.inside(places[i], text), p.bottom+16, middle, text)
	}
}

// stride finds how many places apart the widest texts still have air between them.
func stride(places []float64, texts []string) int {
	if len(places) < 2 {
		return 1
	}
	apart := (places[len(places)-1] - places[0]) / float64(len(places)-1)
	return max(1, int(math.Ceil((widest(texts)+10)/max(apart, 1e-9))))
}
