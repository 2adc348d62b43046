package chart

import (
	"encoding/xml"
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// drawnText is a text of a drawing and the room that it takes.
type drawnText struct {
	class, text              string
	left, right, top, bottom float64
}

func (a drawnText) over(b drawnText) bool {
	const touch = 1
	return a.left < b.right-touch && b.left < a.right-touch && a.top < b.bottom-touch && b.top < a.bottom-touch
}

// drawing is what a test sees of one SVG.
type drawing struct {
	wide, high float64
	texts      []drawnText
	marks      []point
}

// drawings reads the SVGs in a text.
func drawings(svg template.HTML) (out []drawing) {
	d := xml.NewDecoder(strings.NewReader("<all>" + string(svg) + "</all>"))
	number := func(e xml.StartElement, name string) float64 {
		v, _ := strconv.ParseFloat(attr(e, name), 64)
		return v
	}
	for {
		token, err := d.Token()
		if err != nil {
			return out
		}
		e, is := token.(xml.StartElement)
		if !is {
			continue
		}
		switch e.Name.Local {
		case "svg":
			out = append(out, drawing{wide: number(e, "width"), high: number(e, "height")})
		case "circle":
			now := &out[len(out)-1]
			now.marks = append(now.marks, point{number(e, "cx"), number(e, "cy")})
		case "text":
			if attr(e, "transform") != "" {
				continue // stands on end, in a margin of its own
			}
			content, _ := d.Token()
			chars, _ := content.(xml.CharData)
			text := string(chars)
			now, x, y, wide := &out[len(out)-1], number(e, "x"), number(e, "y"), textWidth(text)*0.93
			switch attr(e, "text-anchor") {
			case middle:
				x -= wide / 2
			case right:
				x -= wide
			}
			now.texts = append(now.texts, drawnText{attr(e, "class"), text, x, x + wide, y - 9, y + 2})
		}
	}
}

// fits expects that no text covers another and that everything lies on its sheet.
func fits(t rapid.TB, svg template.HTML) {
	t.Helper()
	for n, d := range drawings(svg) {
		for i, a := range d.texts {
			if a.left < -4 || a.right > d.wide+4 || a.top < -4 || a.bottom > d.high+4 {
				t.Fatalf("drawing %d of %v x %v: %q (%s) at %v to %v, %v lies outside", n, d.wide, d.high, a.text, a.class, a.left, a.right, a.bottom)
			}
			for _, b := range d.texts[:i] {
				if a.over(b) && !strings.Contains(a.class+b.class, "signalled") {
					t.Fatalf("drawing %d: %q (%s) covers %q (%s)", n, a.text, a.class, b.text, b.class)
				}
			}
		}
		for _, m := range d.marks {
			if m.x < 0 || m.x > d.wide || m.y < 0 || m.y > d.high {
				t.Fatalf("drawing %d: a point at %v lies outside", n, m)
			}
		}
	}
}

// level draws a scale of values, from a thousandth to a million.
func level(t *rapid.T) float64 {
	return math.Pow(10, rapid.Float64Range(-3, 6).Draw(t, "power")) * rapid.Float64Range(1, 9).Draw(t, "level")
}

// No text of a chart covers another and all points lie on the sheet, in wide windows and
// in narrow ones, whatever the values are.
func TestTextsDoNotOverlap(t *testing.T) {
	frame := Frame{ID: "x", Title: "Key VENT", Width: 1240, Height: 320, Narrow: 350, Few: Few{10, "Not drawn, of fewer than 10 units each:"}}
	for name, draw := range map[string]func(*rapid.T) template.HTML{
		"control": func(t *rapid.T) template.HTML {
			at, wide := level(t), rapid.Float64Range(1e-3, 0.9).Draw(t, "wide")
			c := Control{Frame: frame, Y: Axis{Label: "ohm"}, X: Axis{Label: "subgroups"}, Baseline: 3, BaselineText: "limits from these", Zoom: "part",
				Zones: true}
			n := rapid.IntRange(1, 60).Draw(t, "n")
			for i := range n {
				c.Points = append(c.Points, Point{Value: at * (1 + wide*(rapid.Float64Range(-1, 1).Draw(t, "v"))), Lower: at * (1 - wide), Centre: at,
					Upper: at * (1 + wide), Name: fmt.Sprintf("11-%02d 08:%02d", i/20+1, i), Tip: "tip", Runs: [2]int64{int64(i + 1), int64(i + 1)},
					Day: map[bool]string{true: fmt.Sprintf("11-%02d", i/7+1)}[i%7 == 6]})
			}
			c.LimitText = [3]string{"UCL " + fmt.Sprintf("%.4g", at*(1+wide)), "CL " + fmt.Sprintf("%.4g", at), "LCL " + fmt.Sprintf("%.4g", at*(1-wide))}
			c.Spec = []Named{{at * rapid.Float64Range(1.1, 90).Draw(t, "spec"), "USL 200 ohm"}}
			return c.SVG()
		},
		"days": func(t *rapid.T) template.HTML {
			c, curve := Curves{Frame: frame, Y: Axis{Label: "%", Most: 100}, X: Axis{Label: "day"}, Zoom: "days"}, Curve{Name: "first-pass yield", Both: true}
			for i := range rapid.IntRange(1, 92).Draw(t, "n") {
				v := float64(rapid.IntRange(0, 1000).Draw(t, "v")) / 10
				if rapid.IntRange(0, 9).Draw(t, "gap") == 0 {
					curve.Add(Gap(float64(i)), Spot{}, 0)
					continue
				}
				curve.Add(Level{float64(i), v, max(v-3, 0), min(v+3, 100)}, Spot{Tip: "tip", Link: "/quality/units"}, rapid.IntRange(1, 400).Draw(t, "units"))
				c.XNames = append(c.XNames, Name{float64(i), fmt.Sprintf("%02d-%02d", i/30+1, i%30+1)})
			}
			c.Curves = []Curve{curve}
			c.Across = []Across{{X: math.NaN(), Y: float64(rapid.IntRange(1, 100).Draw(t, "target")), Text: "target 98.5 %", Kind: "centre"}}
			return c.SVG()
		},
		"distribution": func(t *rapid.T) template.HTML {
			at := level(t)
			lower := at * rapid.Float64Range(0.2, 2.99).Draw(t, "lower")
			d := Distribution{Frame: frame, X: Axis{Label: "ohm", Log: rapid.Bool().Draw(t, "log")}, Y: Axis{Label: "units"}, Lower: lower, Upper: at * 3,
				LimitText: [2]string{fmt.Sprintf("%.4g ohm", lower), fmt.Sprintf("%.4g ohm", at*3)}}
			for i := range rapid.IntRange(1, 40).Draw(t, "bins") {
				low := at * math.Pow(1.05, float64(i))
				d.Bins = append(d.Bins, Bin{Low: low, High: low * 1.05, Count: float64(rapid.IntRange(0, 100000).Draw(t, "count"))})
			}
			return d.SVG()
		},
		"pareto": func(t *rapid.T) template.HTML {
			b, sum := Bars{Frame: frame, X: Axis{Label: "units", Whole: true}, WholeText: "together"}, 0.0
			for i := range rapid.IntRange(1, 15).Draw(t, "n") {
				v := float64(rapid.IntRange(1, 9000).Draw(t, "v"))
				sum += v
				b.Bars = append(b.Bars, Bar{Name: strings.Repeat("key open ", i%4+1), Value: v, Low: v * 0.8, High: v * 1.2, SoFar: sum, Text: fmt.Sprintf("%.0f · 26.0 %% · 26 %%", v)})
			}
			b.Whole = sum
			return b.SVG()
		},
		"intervals": func(t *rapid.T) template.HTML {
			c := Intervals{Frame: frame, X: Axis{Label: "%", Most: 100}, Reference: float64(rapid.IntRange(1, 100).Draw(t, "target")), ReferenceText: "target 98.5 %"}
			for i := range rapid.IntRange(1, 30).Draw(t, "n") {
				v := float64(rapid.IntRange(0, 1000).Draw(t, "v")) / 10
				c.Rows = append(c.Rows, Interval{Name: fmt.Sprintf("J-%04d", i), Value: v, Low: v * 0.9, High: min(v*1.1, 100), Second: math.NaN(),
					N: rapid.IntRange(0, 50).Draw(t, "units"), Text: "n 4210", Tip: "tip"})
			}
			return c.SVG()
		},
		"spreads": func(t *rapid.T) template.HTML {
			c := Spreads{Frame: frame, X: Axis{Label: "ohm", Log: true}, Limits: [2]string{"LSL", "USL"}}
			for i := range rapid.IntRange(1, 30).Draw(t, "n") {
				m := level(t)
				c.Rows = append(c.Rows, Spread{Name: fmt.Sprint("key ", i), Least: m * 0.5, P5: m * 0.7, P25: m * 0.9, P50: m, P75: m * 1.1, P95: m * 1.4, Most: m * 2,
					Lower: math.NaN(), Upper: m * 3, N: 100, Text: "n 100"})
			}
			return c.SVG()
		},
	} {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) { fits(t, draw(t)) })
		})
	}
}

// An axis covers the values and the limits; a natural zero that is near is where it begins,
// and shares end at 100 %.
func TestAxesCoverWhatIsOnThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(0, 100), 1, 20).Draw(t, "values")
		a := Axis{Most: 100}
		from, to := a.span(values...)
		for _, v := range values {
			if v < from || v > to {
				t.Fatalf("%v is outside %v to %v", v, from, to)
			}
		}
		if from < 0 && to > 5 || to > 100 && from < 95 {
			t.Fatalf("%v to %v: no share lies there", from, to)
		}
	})
	from, _ := Axis{}.span(3, 40, 12)
	assert.Zero(t, from, "a spread begins at nothing")
	from, _ = Axis{}.span(61, 74, 48)
	assert.Greater(t, from, 40.0, "a level does not")
}

// Panels of one page have the same room at both sides, so that one time is above another.
func TestPanelsAreAligned(t *testing.T) {
	a, b := Control{Frame: Frame{ID: "a", Width: 900, Height: 300}, Zoom: "part", LimitText: [3]string{"UCL 117.14", "", ""}, Y: Axis{Label: "ohm"}},
		Control{Frame: Frame{ID: "b", Width: 900, Height: 200}, Zoom: "part"}
	for i := range 20 {
		a.Points = append(a.Points, Point{Value: 10000 + float64(i), Lower: 9900, Centre: 10010, Upper: 11000, Name: "1"})
		b.Points = append(b.Points, Point{Value: float64(i % 3), Lower: math.NaN(), Centre: 1, Upper: 2, Name: "1"})
	}
	sides := func(c Control) (left, right string) {
		for _, e := range parse(t, string(c.SVG())) {
			if e.Name.Local == "svg" {
				f := strings.Fields(attr(e, "data-plot"))
				return f[0], f[2]
			}
		}
		return "", ""
	}
	left, right := sides(a)
	otherLeft, otherRight := sides(b)
	assert.NotEqual(t, [2]string{left, right}, [2]string{otherLeft, otherRight})
	Align(&a, &b)
	left, right = sides(a)
	otherLeft, otherRight = sides(b)
	assert.Equal(t, [2]string{left, right}, [2]string{otherLeft, otherRight})
}

// Where nothing was tested no line leads through, in a control chart and over days.
func TestGapsAreGaps(t *testing.T) {
	pieces := func(svg template.HTML, class string) int {
		for _, e := range parse(t, string(svg)) {
			if e.Name.Local == "path" && strings.Contains(attr(e, "class"), class) {
				return strings.Count(attr(e, "d"), "M")
			}
		}
		return 0
	}
	c := Control{Frame: Frame{ID: "a", Width: 900, Height: 300}}
	for i := range 9 {
		c.Points = append(c.Points, Point{Value: float64(i), Lower: math.NaN(), Centre: math.NaN(), Upper: math.NaN(), Apart: i == 4})
	}
	assert.Equal(t, 2, pieces(c.SVG(), "c-series"))
	days, curve := Curves{Frame: Frame{ID: "b", Width: 900, Height: 300}}, Curve{Both: true}
	for i := range 9 {
		at := Level{float64(i), 90, 80, 95}
		if i == 4 || i == 5 {
			at = Gap(float64(i))
		}
		curve.Add(at, Spot{}, 100)
	}
	days.Curves = []Curve{curve}
	assert.Equal(t, 2, pieces(days.SVG(), "c-curve"))
}

// Groups of few units are named below the chart and not drawn; where there are no others
// they are.
func TestGroupsOfFewUnits(t *testing.T) {
	few := Frame{ID: "a", Width: 700, Few: Few{10, "Not drawn:"}}
	row := func(name string, n int) Interval {
		return Interval{Name: name, Value: 50, Low: 10, High: 90, Second: math.NaN(), N: n}
	}
	svg := string(Intervals{Frame: few, Reference: math.NaN(), Rows: []Interval{row("J-1", 400), row("J-2", 3)}}.SVG())
	assert.Contains(t, svg, "Not drawn: J-2 (n 3)")
	assert.Equal(t, 1, strings.Count(svg, "<circle"))
	svg = string(Intervals{Frame: few, Reference: math.NaN(), Rows: []Interval{row("J-1", 4), row("J-2", 3)}}.SVG())
	assert.NotContains(t, svg, "Not drawn")
	assert.Equal(t, 2, strings.Count(svg, "<circle"))
}

// A part of a chart keeps the limits of the whole, its events and its baseline.
func TestPartOfAChart(t *testing.T) {
	c := Control{Baseline: 4, Events: []Event{{Before: 2, Mark: "a"}, {Before: 6, Mark: "b"}}}
	for i := range 10 {
		c.Points = append(c.Points, Point{Value: float64(i), Runs: [2]int64{int64(10 * i), int64(10*i + 9)}})
	}
	part := c.Part(35, 69)
	assert.Len(t, part.Points, 4)
	assert.Equal(t, 3.0, part.Points[0].Value, "a point that is cut is shown in whole")
	assert.Equal(t, 1, part.Baseline)
	assert.Equal(t, []Event{{Before: 3, Mark: "b"}}, part.Events)
	assert.Empty(t, c.Part(500, 600).Points, "nothing is there")
	assert.NotPanics(t, func() { c.Part(500, 600).SVG() })
	assert.Zero(t, c.Part(500, 600).Baseline)
}

// A count is read off its axis: the highest bin and no more, bins of other widths by area.
func TestHistogramsCount(t *testing.T) {
	d := Distribution{Bins: []Bin{{0, 10, 40, "", ""}, {10, 20, 80, "", ""}, {20, 40, 80, "", ""}}}
	assert.Equal(t, []float64{40, 80, 40}, d.heights(scale{from: 0, to: 40, end: 400}))
}
