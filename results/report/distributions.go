package report

import (
	"fmt"
	"html/template"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report/chart"
)

// Distributions writes how the contact resistance of every key is distributed.
func Distributions(a answers.Distributions) Document {
	d := about(a.Selection, "Distributions of "+Measured(terminal, lines.Contact), lines.Mixture{})
	t, bins := DistributionTable("distributions", "key", a.Rows), BinTable(a.Rows)
	t.Title = fmt.Sprintf("Key by key, %s intervals of the mean", confidenceOf(a.Selection))
	bins.Quiet = true
	d.Tables = []Table{t, bins}
	d.Charts = []Chart{{Title: "Distributions", SVG: func() template.HTML { return distributionChart(a.Rows) }}}
	d.Conclusion = a.Conclusions
	return d
}

// DistributionTable has a row for each distribution.
func DistributionTable(name, of string, rows []answers.Distribution) Table {
	t := Table{Name: name, Empty: "no reading", Columns: []Column{{Name: of}, {Name: "n"},
		{Name: "mean", Unit: "ohm", Digits: 2}, {Name: "sd", Unit: "ohm", Digits: 2},
		{Name: "minimum", Digits: 2, Minor: true}, {Name: "p5", Digits: 2, Minor: true}, {Name: "median", Unit: "ohm",
			Digits: 2}, {Name: "p95", Digits: 2, Minor: true}, {Name: "maximum", Digits: 2, Minor: true},
		{Name: "limit_lower", Digits: 1, Minor: true}, {Name: "limit_upper", Digits: 1,
			Minor: true}, {Name: "guard_band", Digits: 3, Minor: true}, {Name: "over_range", Minor: true}}}
	for _, r := range rows {
		q := r.Quantiles
		t.Rows = append(t.Rows, []any{r.Name, r.N, r.Mean, r.SD, q.Least, q.P5, q.Median, q.P95, q.Most,
			limit(r.Limits[0]), limit(r.Limits[1]), limit(r.Guard), r.Over})
	}
	return t
}

// BinTable counts the readings of each key.
func BinTable(rows []answers.Distribution) Table {
	t := Table{Name: "bins", Columns: []Column{{Name: "key"}, {Name: "from", Unit: "ohm", Digits: 3},
		{Name: "to", Unit: "ohm", Digits: 3}, {Name: "count"}}}
	for _, r := range rows {
		for _, b := range r.Bins {
			t.Rows = append(t.Rows, []any{r.Name, b.From, b.To, int(b.Count)})
		}
	}
	return t
}

func distributionChart(rows []answers.Distribution) template.HTML {
	s := chart.Spreads{Frame: chart.Frame{ID: "distributions", Title: "Contact resistance by key",
		Desc: "Middle half, and nearly all, of the readings of each key, with its limits.", Width: 720},
		X: chart.Axis{Label: "ohm", Log: true}}
	for _, r := range rows {
		if r.N > 0 {
			s.Rows = append(s.Rows, Spread(r.Name, r.Quantiles, r.Limits, fmt.Sprintf("n %d", r.N)))
		}
	}
	return s.SVG()
}
