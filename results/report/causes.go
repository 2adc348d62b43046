package report

import (
	"fmt"
	"html/template"
	"math"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
)

// Causes reports what fails, most often first. The error says so when there is nothing to report.
func Causes(a Asked, c results.Causes, by results.CauseBy, share Share) (Document, error) {
	if c.Units == 0 {
		return Document{}, fmt.Errorf("%w: %s", results.ErrNoUnits, a.Filter)
	}
	d := a.document("Causes by "+string(by), c.Mixed)
	t := Table{Name: "causes", Title: fmt.Sprintf("What failed units failed with first, %s intervals", percent(a.Confidence)),
		Columns: []Column{{Name: "cause", Head: string(by)}, {Name: "units", Head: "units"},
			{Name: "of_failed", Head: "of failed", Unit: "%", Digits: 1}, {Name: "of_units", Head: "of all units", Unit: "%", Digits: 3, Minor: true},
			{Name: "together", Head: "so far", Unit: "%", Digits: 1}, {Name: "findings", Head: "findings", Minor: true}, {Name: "with_retests", Head: "with retests", Minor: true}},
		Empty: "no unit failed", Most: 30}
	so := 0
	for _, row := range c.Rows {
		so += row.Worst
		var together any
		if c.Failed > 0 && (by == results.CauseByFinding || by == results.CauseByPlace) {
			together = float64(so) / float64(c.Failed)
		}
		t.Rows = append(t.Rows, []any{row.Name, row.Worst, shareOf(share, min(row.Worst, c.Failed), c.Failed, a.Confidence),
			shareOf(share, min(row.Worst, c.Units), c.Units, a.Confidence), together, row.Units, row.Runs})
	}
	d.Tables = []Table{t}
	d.Charts = []Chart{{Title: "Causes", SVG: func() template.HTML { return causesChart(c, by) }}}
	d.Conclusion = []string{causeWords(c, by)}
	return d, nil
}

func causeWords(c results.Causes, by results.CauseBy) string {
	if c.Failed == 0 {
		return fmt.Sprintf("None of %d units failed when it was judged first.", c.Units)
	}
	words := fmt.Sprintf("%d of %d units failed when they were judged first. A unit counts once, for its worst finding; \"findings\" counts all of them.",
		c.Failed, c.Units)
	switch by {
	case results.CauseByLine, results.CauseByChannel:
		words += " A finding about two lines counts for both, so the counts add up to more than the units."
	case results.CauseByKey:
		words += " Findings about no single key are left out."
	}
	return words
}

func causesChart(c results.Causes, by results.CauseBy) template.HTML {
	bars := chart.Bars{Frame: chart.Frame{ID: "causes", Title: "Units by their worst finding", Desc: "Units that failed first, by " + string(by) + ", most first.", Width: 720},
		X: chart.Axis{Label: "units"}}
	for i, row := range c.Rows {
		if i == 25 {
			break
		}
		bars.Bars = append(bars.Bars, chart.Bar{Name: row.Name, Value: float64(row.Worst), Low: math.NaN(), High: math.NaN(), Text: fmt.Sprint(row.Worst)})
	}
	return bars.SVG()
}

// Heat draws how often each key failed onto the pad: for a terminal and for a page.
func Heat(keys []results.PadKey, c results.Causes) (drawing string, c2 Chart) {
	counts := map[string]int{}
	for _, row := range c.Rows {
		counts[row.Name] = row.Worst
	}
	most := 0
	for _, n := range counts {
		most = max(most, n)
	}
	drawing = results.Drawing(keys, func(k results.PadKey) string { return heat(counts[k.Label], most) })
	drawing += "  units that failed first at each key; ░ ▒ ▓ █: up to a quarter, half,\n  three quarters and all of the most\n"
	return drawing, Chart{Title: "Where units fail", SVG: func() template.HTML {
		pad := chart.Pad{Frame: chart.Frame{ID: "pad", Title: "Where units fail", Desc: "The pad with the units that failed first at each key.", Width: 560},
			Scale: [2]string{"none", fmt.Sprint(most)}}
		for _, k := range keys {
			n := counts[k.Label]
			pad.Keys = append(pad.Keys, chart.PadKey{Label: k.Label, X: k.X, Y: k.Y, W: k.W, H: k.H, Value: float64(n), Text: fmt.Sprint(n)})
		}
		return pad.SVG()
	}}
}

// heat is a count with a shade beside it.
func heat(n, most int) string {
	if n == 0 {
		return "·"
	}
	shades := []rune("░▒▓█")
	return fmt.Sprintf("%c%d", shades[min((4*n-1)/max(most, 1), 3)], n)
}

// Places reports what comes up at one place on one jig more often than on all
// others, adjusted for how many places and jigs were looked at (Holm).
func Places(list []results.PlaceOnJig, confidence float64) (Table, string) {
	t := Table{Name: "places", Title: "The same place on one jig and on all others",
		Columns: []Column{{Name: "place", Head: "what and where"}, {Name: "jig", Head: "jig"}, {Name: "here", Head: "here"},
			{Name: "rate_here", Head: "rate here", Unit: "%", Digits: 3}, {Name: "elsewhere", Head: "elsewhere", Minor: true},
			{Name: "rate_elsewhere", Head: "rate elsewhere", Unit: "%", Digits: 3}, {Name: "odds", Head: "odds ratio", Digits: 1, Minor: true},
			{Name: "p", Head: "p, adjusted"}},
		Empty: "nothing came up often enough at one place of one jig to compare"}
	var tests []stats.FisherTest
	var p []float64
	for _, l := range list {
		test, err := stats.Fisher(stats.Table2{{l.Hits, l.Units - l.Hits}, {l.OtherHits, l.OtherUnits - l.OtherHits}}, confidence)
		if err != nil {
			test = stats.FisherTest{P: 1, Greater: 1, Conditional: math.NaN(), Odds: stats.Interval{Low: math.NaN(), High: math.NaN()}}
		}
		tests, p = append(tests, test), append(p, test.Greater)
	}
	adjusted, found := stats.Holm(p), 0
	for i, l := range list {
		if adjusted[i] >= 0.05 && i >= 5 {
			continue
		}
		if adjusted[i] < 0.05 {
			found++
		}
		t.Rows = append(t.Rows, []any{l.Name, l.Jig, l.Hits, share(l.Hits, l.Units), l.OtherHits, share(l.OtherHits, l.OtherUnits),
			Estimate{tests[i].Conditional, tests[i].Odds.Low, tests[i].Odds.High}, Chance(adjusted[i])})
	}
	switch {
	case len(list) == 0:
		return t, ""
	case found == 0:
		return t, fmt.Sprintf("Of %d places on jigs none comes up more often there than elsewhere by more than chance (Fisher, Holm): look at the units, not at a jig.", len(list))
	}
	return t, fmt.Sprintf("%d of %d places on jigs come up more often there than on all other jigs together, by more than chance (Fisher, Holm): look at that jig's actuator and contact there first. The comparison takes for granted that the jigs tested the same kind of units.", found, len(list))
}

func share(x, n int) any {
	if n == 0 {
		return nil
	}
	return float64(x) / float64(n)
}
