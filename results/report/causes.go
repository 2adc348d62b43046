package report

import (
	"fmt"
	"html/template"
	"math"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report/chart"
)

// Causes writes what fails, where on the pad, and what is one jig's own.
func Causes(c answers.Causes) Document {
	d := about(c.Selection, "Causes by "+string(c.By), c.Mixed)
	causes, pad, places := CauseTable(c), PadTable(c.Pad), PlaceTable(c.Places)
	causes.Title = fmt.Sprintf("What failed units failed with first, %s intervals", confidenceOf(c.Selection))
	pad.Quiet, places.Title = true, "The same place on one jig and on all others"
	d.Tables = []Table{causes, pad, places}
	d.Charts = []Chart{{Title: "Causes", SVG: func() template.HTML { return causesChart(c) }}}
	if len(c.Pad) > 0 {
		d.Drawing = padDrawing(c.Pad)
		d.Charts = append(d.Charts, Chart{Title: "Where units fail", SVG: func() template.HTML { return padChart(c.Pad) }})
	}
	d.Conclusion = c.Conclusions
	return d
}

// CauseTable has a row for each cause, most units first.
func CauseTable(c answers.Causes) Table {
	t := Table{Name: "causes", Empty: "no unit failed", Most: 30, Columns: []Column{{Name: "cause"}, {Name: "units"},
		{Name: "of_failed", Unit: "%", Digits: 1}, {Name: "of_units", Unit: "%", Digits: 3, Minor: true},
		{Name: "together", Unit: "%", Digits: 1}, {Name: "findings", Minor: true}, {Name: "with_retests", Minor: true}}}
	for _, r := range c.Rows {
		t.Rows = append(t.Rows, []any{r.Name, r.Worst, r.OfFailed, r.OfUnits, r.SoFar, r.Units, r.Runs})
	}
	return t
}

// PadTable has a row for each key.
func PadTable(keys []answers.KeyHits) Table {
	t := Table{Name: "keys", Columns: []Column{{Name: "key"}, {Name: "findings"}, {Name: "of_units", Unit: "%", Digits: 3}}}
	for _, k := range keys {
		t.Rows = append(t.Rows, []any{k.Label, k.Findings, k.OfUnits})
	}
	return t
}

// PlaceTable has a row for each place on a jig.
func PlaceTable(places []answers.Place) Table {
	t := Table{Name: "places", Empty: "nothing came up often enough at one place of one jig to compare", Columns: []Column{
		{Name: "place"}, {Name: "jig"}, {Name: "here"}, {Name: "rate_here", Unit: "%", Digits: 3,
			Minor: true}, {Name: "elsewhere"},
		{Name: "rate_elsewhere", Unit: "%", Digits: 3, Minor: true}, {Name: "odds", Digits: 1, Minor: true}, {Name: "p"}}}
	for _, p := range places {
		t.Rows = append(t.Rows, []any{p.Name, p.Jig, p.Hits, p.Here, p.OtherHits, p.Elsewhere, p.Odds, p.P})
	}
	return t
}

func causesChart(c answers.Causes) template.HTML {
	bars := chart.Bars{Frame: chart.Frame{ID: "causes", Title: "Units by their worst finding",
		Desc: "Units that failed first, by " + string(c.By) + ", most first.", Width: 720},
		X: chart.Axis{Label: "units"}}
	for i, row := range c.Rows {
		if i == 25 {
			break
		}
		bars.Bars = append(bars.Bars, chart.Bar{Name: row.Name, Value: float64(row.Worst), Low: math.NaN(),
			High: math.NaN(), Text: fmt.Sprint(row.Worst)})
	}
	return bars.SVG()
}

func mostFindings(keys []answers.KeyHits) (most int) {
	for _, k := range keys {
		most = max(most, k.Findings)
	}
	return most
}

// padDrawing is the pad with its findings for a terminal.
func padDrawing(keys []answers.KeyHits) string {
	most, counts, plain := mostFindings(keys), map[string]int{}, []lines.PadKey{}
	for _, k := range keys {
		counts[k.Label] = k.Findings
		plain = append(plain, k.PadKey)
	}
	return lines.Drawing(plain, func(k lines.PadKey) string { return heat(counts[k.Label], most) }) +
		"  findings about each key where units were judged first; ░ ▒ ▓ █: up to a\n  quarter, half, three quarters and all of the most\n"
}

// heat is a count with a shade beside it.
func heat(n, most int) string {
	if n == 0 {
		return "·"
	}
	shades := []rune("░▒▓█")
	return fmt.Sprintf("%c%d", shades[min((4*n-1)/max(most, 1), 3)], n)
}

func padChart(keys []answers.KeyHits) template.HTML {
	pad := chart.Pad{Frame: chart.Frame{ID: "pad", Title: "Where units fail",
		Desc: "The pad with the findings about each key.", Width: 560},
		Scale: [2]string{"none", fmt.Sprint(mostFindings(keys))}}
	for _, k := range keys {
		pad.Keys = append(pad.Keys, chart.PadKey{Label: k.Label, X: k.X, Y: k.Y, W: k.W, H: k.H,
			Value: float64(k.Findings), Text: fmt.Sprint(k.Findings)})
	}
	return pad.SVG()
}
