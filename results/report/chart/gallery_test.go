package chart

import (
	"flag"
	"fmt"
	"html/template"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"padjig/results/report/pad"

	"github.com/stretchr/testify/require"
)

var gallery = flag.String("gallery", "", "write a page with every chart to this file, to be looked at")

// samples are charts of every kind, in the states that are easily forgotten too.
func samples() map[string]template.HTML {
	nan := math.NaN()
	rng := rand.New(rand.NewPCG(1, 2))
	frame := func(id, title string, w, h float64) Frame {
		return Frame{ID: id, Title: title, Desc: "Made-up values of a greenhouse controller's keypad.", Width: w, Height: h,
			Narrow: 360, Few: Few{10, "Not drawn, of fewer than 10 units each:"}}
	}
	control := Control{
		Frame: frame("control", "Key VENT, mean of five units, ohm", 960, 300),
		X:     Axis{Label: "subgroup"}, Y: Axis{Label: "mean, ohm"},
		Baseline: 20, BaselineText: "limits from these 20", Zones: true,
		LimitText: [3]string{"74.2", "61.0", "47.8"},
		Events: []Event{{Before: 24, Mark: "A", Tip: "lot of membranes changed"}, {Before: 25, Mark: "B"},
			{Before: 50, Mark: "C", Tip: "calibration"}},
		Spec:   []Named{{82, "USL 82 ohm"}, {300, "USL 300 ohm, of single readings"}, {12, "LSL 12 ohm"}},
		Behind: "/quality/units?product=GCC-20&runs=", Zoom: "show",
	}
	for i := range 60 {
		v := 61 + 4*rng.NormFloat64()
		signal := 0
		if i > 52 {
			v += 12
		}
		if v > 74.2 || v < 47.8 {
			signal = 1
		}
		control.Points = append(control.Points, Point{Value: v, Lower: 47.8, Centre: 61, Upper: 74.2,
			Name: fmt.Sprintf("%d", i+1), Signal: signal, Tip: fmt.Sprintf("subgroup %d: %.1f ohm", i+1, v),
			Runs: [2]int64{int64(5*i + 1), int64(5*i + 5)}, Day: map[bool]string{true: fmt.Sprintf("11-%02d", i/10+2)}[i%10 == 0], Apart: i == 30})
	}
	shares := Control{Frame: frame("shares", "Share of failed units a shift", 960, 260), Y: Axis{Label: "share, %"}, X: Axis{Label: "shift"}}
	for i := range 500 {
		n := 150 + rng.Float64()*300
		half := 3 * math.Sqrt(0.03*0.97/n) * 100
		v := 3 + half/3*rng.NormFloat64()
		signal := 0
		if v > 3+half {
			signal = 1
		}
		shares.Points = append(shares.Points, Point{Value: max(v, 0), Lower: max(3-half, 0), Centre: 3, Upper: 3 + half,
			Name: fmt.Sprintf("2026-%02d-%02d", i/60+1, i%28+1), Signal: signal, Tip: fmt.Sprintf("%.1f %%", v),
			Runs: [2]int64{int64(300 * i), int64(300*i + 299)}})
	}
	empty := Control{Frame: frame("nothing", "No point", 480, 200)}
	one := Control{Frame: frame("one", "One point", 480, 200), Points: []Point{{Value: 5, Lower: nan, Centre: nan, Upper: nan, Name: "1"}}}
	dist := Distribution{Frame: frame("dist", "Key VENT, closed resistance", 470, 220), X: Axis{Label: "ohm", Log: true}, Y: Axis{Label: "units"},
		Lower: nan, Upper: 300, GuardUpper: 24, LimitText: [2]string{"", "at most 300 ohm"}, Beyond: "2 open"}
	for i := range 60 {
		low := 40 * math.Pow(2, float64(i)/16)
		d := (math.Log(low) - math.Log(90)) / 0.28
		count := math.Round(900 * math.Exp(-d*d/2))
		dist.Bins = append(dist.Bins, Bin{Low: low, High: low * math.Pow(2, 1./16), Count: count, Tip: fmt.Sprint(count)})
	}
	two := Distribution{Frame: frame("two", "Two limits", 470, 220), X: Axis{Label: "volt"}, Y: Axis{Label: "units"}, Lower: 0.4, Upper: 0.9,
		GuardLower: 0.02, GuardUpper: 0.02, LimitText: [2]string{"0.40 V", "0.90 V"},
		Bins: []Bin{{0.35, 0.40, 3, "", ""}, {0.5, 0.55, 20, "", ""}, {0.55, 0.6, 90, "90 units", "/quality/units"}, {0.6, 0.65, 60, "", ""}, {0.65, 0.7, 8, "", ""}}}
	bars := Bars{Frame: frame("bars", "What failed first", 640, 0), X: Axis{Label: "units"}, Whole: 510, WholeText: "together, share of failed units", Bars: []Bar{
		{Name: "contact high", Value: 210, Low: 183, High: 240, SoFar: 210, Tip: "contact high: 210", Link: "/quality/units?is=contact+high", Text: "210 · 41.2 % · 41 %"},
		{Name: "key does not close", Value: 150, Low: 128, High: 175, SoFar: 360, Text: "150 · 29.4 % · 71 %", Chosen: true},
		{Name: "pair leaks", Value: 80, Low: 64, High: 99, SoFar: 440, Text: "80 · 15.7 % · 86 %"},
		{Name: "a very long name of something that was found", Value: 1, Low: 0.1, High: 5, SoFar: 441, Text: "1 · 0.2 % · 100 %"}}}
	intervals := Intervals{Frame: frame("yields", "Yield by jig, 95 % intervals", 640, 0), X: Axis{Label: "%"}, Reference: 97.1,
		ReferenceText: "all 97.1", Rows: []Interval{
			{Name: "JIG-1", Value: 97.4, Low: 96.9, High: 97.9, Second: 98.8, SecondLow: 98.4, SecondHigh: 99.1, N: 4210, Text: "n 4 210"},
			{Name: "JIG-2", Value: 96.6, Low: 96.0, High: 97.1, Second: 98.7, SecondLow: 98.3, SecondHigh: 99, N: 4180, Text: "n 4 180"},
			{Name: "JIG-3", Value: 100, Low: 79.6, High: 100, Second: nan, N: 15, Text: "n 15"},
			{Name: "JIG-5", Value: 33, Low: 6, High: 79, Second: nan, N: 3, Text: "n 3"},
			{Name: "JIG-4", Value: nan, Low: nan, High: nan, Second: nan, N: 0, Text: "n 0"}}}
	spreads := Spreads{Frame: frame("spreads", "Every key", 640, 0), Limits: [2]string{"LSL", "USL"}, X: Axis{Label: "ohm", Log: true}}
	for i, name := range []string{"1", "2", "3", "VENT", "HEAT"} {
		m := 60 * math.Pow(1.1, float64(i))
		spreads.Rows = append(spreads.Rows, Spread{Name: name, Least: m * 0.6, P5: m * 0.8, P25: m * 0.93, P50: m, P75: m * 1.08,
			P95: m * 1.3, Most: m * 2.6, Lower: nan, Upper: 200 + 100*float64(i/3), GuardUpper: 20, N: 4210 - 4209*(i/4), Text: "n 4 210"})
	}
	var px, py []float64
	for i := range 60 {
		z := (float64(i) - 29.5) / 14
		px, py = append(px, math.Exp(4+0.2*z+0.03*z*z)), append(py, z)
	}
	plot := Curves{Frame: frame("normal", "Against the normal law", 470, 300), X: Axis{Label: "ohm"}, Y: Axis{Label: "expected, sigma"},
		Curves: []Curve{{X: px, Y: py, Points: true}, {Name: "normal", X: []float64{35, 85}, Y: []float64{-2.2, 2.2}}}}
	var cx, c1, c2, c3, c4 []float64
	for i := range 81 {
		q := float64(i) / 400
		cx = append(cx, q*100)
		c1, c2 = append(c1, 100*math.Pow(1-q, 20)), append(c2, 100*math.Pow(1-q, 50))
		c3, c4 = append(c3, 100*math.Pow(1-q, 80)), append(c4, 100*math.Pow(1-q, 200))
	}
	oc := Curves{Frame: frame("oc", "Lots accepted", 470, 300), X: Axis{Label: "failed in the lot, %"}, Y: Axis{Label: "accepted, %"},
		Curves: []Curve{{Name: "n 20", X: cx, Y: c1}, {Name: "n 50", X: cx, Y: c2}, {Name: "n 80", X: cx, Y: c3}, {Name: "n 200", X: cx, Y: c4}},
		Marks:  []Mark{{1, 60.5, "95 % at 1 %"}}, Across: []Across{{X: nan, Y: 10, Kind: "limit", Text: "10 %"}}}
	days := Curves{Frame: frame("days", "First-pass yield", 960, 240), X: Axis{Label: "day"}, Y: Axis{Label: "%"},
		Across: []Across{{X: 12, Y: nan, Kind: "event", Text: "A"}}}
	first := Curve{Name: "first pass", Both: true}
	for i := range 30 {
		v := 96.5 + rng.NormFloat64()
		first.X, first.Y = append(first.X, float64(i)), append(first.Y, v)
		first.Low, first.High = append(first.Low, v-0.8), append(first.High, v+0.7)
		first.N = append(first.N, map[bool]int{true: 4, false: 300}[i == 20])
		first.Spots = append(first.Spots, Spot{Tip: fmt.Sprintf("11-%02d: %.1f %%", i+1, v), Link: "/quality/units", From: fmt.Sprintf("2026-11-%02d", i+1),
			To: fmt.Sprintf("2026-11-%02d", i+1)})
		if i == 11 || i == 12 {
			first.Y[i], first.Low[i], first.High[i] = nan, nan, nan // nothing tested
		}
		days.XNames = append(days.XNames, Name{float64(i), fmt.Sprintf("11-%02d", i+1)})
	}
	days.Curves, days.Zoom, days.Y.Most = []Curve{first}, "days", 100
	keypad := pad.Pad{Title: "Where it failed", Desc: "shaded by how often", Scale: [2]string{"0", "24 units"}}
	for i, label := range strings.Fields("1 2 3 VENT 4 5 6 HEAT 7 8 9 MIST CLR 0 . LIGHT < > MENU OK") {
		v := float64(i * i % 25)
		text := fmt.Sprint(v)
		if i == 5 {
			v, text = nan, "?"
		}
		state := pad.Plain
		if i == 7 {
			state = pad.Wrong
		}
		keypad.Keys = append(keypad.Keys, pad.Key{Label: label, X: float64(i % 4), Y: float64(i / 4), W: 1, H: 1, Value: v, Now: text, State: state})
	}
	return map[string]template.HTML{
		"a control": control.SVG(), "b shares": shares.SVG(), "c empty": empty.SVG(), "d one": one.SVG(),
		"e distribution": dist.SVG(), "f two limits": two.SVG(), "g bars": bars.SVG(), "h intervals": intervals.SVG(),
		"i spreads": spreads.SVG(), "j probability": plot.SVG(), "k oc": oc.SVG(), "l days": days.SVG(), "m pad": keypad.Chart("pad", 470, true),
	}
}

func TestGallery(t *testing.T) {
	page := &strings.Builder{}
	for _, name := range sorted(samples()) {
		fmt.Fprintf(page, "<figure class=%q>%s</figure>\n", strings.Fields(name)[0], samples()[name])
	}
	require.NotContains(t, page.String(), "NaN")
	if *gallery == "" {
		return
	}
	head := `<!doctype html><html lang="en" class="themed"><meta name="viewport" content="width=device-width"><meta charset="utf-8"><title>Charts</title><style>` + Style + `
		body { font-family: system-ui, sans-serif; display: grid; grid-template-columns: 1fr 1fr; gap: 16px; background: Canvas; color-scheme: light dark }
		figure { margin: 0 } .a, .b, .l { grid-column: 1 / 3 } @media (max-width: 820px) { body { display: block } }</style>`
	require.NoError(t, os.WriteFile(*gallery, []byte(head+page.String()), 0o644))
}
