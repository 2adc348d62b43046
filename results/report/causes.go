package report

import (
	"fmt"
	"html/template"
	"math"

	"padjig/results/answers"
	"padjig/results/report/chart"
	"padjig/results/report/pad"
)

// Causes writes what fails, where on the pad, and what is one jig's own.
func Causes(c answers.Causes) Document {
	d := about(c.Selection, "Causes by "+string(c.By), c.Mixed)
	causes, keys, places := CauseTable(c), PadTable(c.Pad), PlaceTable(c.Places)
	causes.Title = fmt.Sprintf("What failed units failed with first, %s intervals", confidenceOf(c.Selection))
	keys.Quiet, places.Title = true, "The same place on one jig and on all others"
	d.Tables = []Table{causes, keys, places}
	d.Charts = []Chart{{Title: "Causes", SVG: func() template.HTML { return causesChart(c) }}}
	if len(c.Pad) > 0 {
		heat := CausesPad(c.Pad)
		d.Drawing = heat.Text() + "  findings about each key where units were judged first; ░ ▒ ▓ █: up to a\n  quarter, half, three quarters and all of the most\n"
		d.Charts = append(d.Charts, Chart{Title: heat.Title, SVG: func() template.HTML { return heat.Chart("pad", 560, true) }})
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

// CausesPad is the pad with the findings about each key, shaded by them.
func CausesPad(keys []answers.KeyHits) pad.Pad {
	p, most := pad.Pad{Title: "Where units fail", Desc: "The pad with the findings about each key."}, 0
	for _, k := range keys {
		most = max(most, k.Findings)
		p.Keys = append(p.Keys, pad.Key{Label: k.Label, X: k.X, Y: k.Y, W: k.W, H: k.H, Value: float64(k.Findings), Now: fmt.Sprint(k.Findings)})
	}
	p.Scale = [2]string{"none", fmt.Sprint(most)}
	return p
}
