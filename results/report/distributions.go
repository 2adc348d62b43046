package report

import (
	"fmt"
	"html/template"
	"strings"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report/chart"
)

// Distributions writes how the contact resistance of every key is distributed.
func Distributions(a answers.Distributions) Document {
	d := about(a.Selection, "Distributions of "+Measured(terminal, a.Measure), lines.Mixture{})
	t, bins := DistributionTable("distributions", "key", a.Measure, a.Rows), BinTable(a.Measure, a.Rows)
	t.Title = fmt.Sprintf("Key by key, %s intervals of the mean", confidenceOf(a.Selection))
	bins.Quiet = true
	d.Tables = []Table{t, bins}
	d.Charts = []Chart{{Title: "Distributions", SVG: func() template.HTML { return distributionChart(a) }}}
	d.Conclusion = a.Conclusions
	return d
}

// DistributionTable has a row for each distribution.
func DistributionTable(name, of string, m lines.Measure, list []answers.Distribution) Table {
	columns := of + ", n, mean ohm .2, sd ohm .2, minimum .2 minor, p5 .2 minor," +
		"median ohm .2, p95 .2 minor, maximum .2 minor, limit_lower .1 minor, limit_upper .1 minor, guard_band .3 minor, over_range minor"
	return Table{Name: name, Empty: "no reading", Columns: Columns(inUnit(columns, m)),
		Rows: rows(list, func(r answers.Distribution) row {
			q := r.Quantiles
			return row{r.Name, r.N, r.Mean, r.SD, q.Least, q.P5, q.Median, q.P95, q.Most,
				limit(r.Limits[0]), limit(r.Limits[1]), limit(r.Guard), r.Over}
		})}
}

// inUnit puts columns in ohm into the unit of a measure; times have two digits more.
func inUnit(columns string, m lines.Measure) string {
	if m.Unit() == "s" {
		columns = strings.ReplaceAll(strings.ReplaceAll(columns, ".3", ".5"), ".2", ".4")
	}
	return strings.ReplaceAll(columns, " ohm ", " "+m.Unit()+" ")
}

// BinTable counts the readings of each key.
func BinTable(m lines.Measure, list []answers.Distribution) Table {
	t := Table{Name: "bins", Columns: Columns(inUnit("key, from ohm .3, to ohm .3, count", m))}
	for _, r := range list {
		for _, b := range r.Bins {
			t.Rows = append(t.Rows, []any{r.Name, b.From, b.To, int(b.Count)})
		}
	}
	return t
}

// LogAxis reports whether values of a measure are drawn on a scale of logarithms. Those of
// insulation are logarithms.
func LogAxis(m lines.Measure) bool { return m.Unit() == "ohm" }

func distributionChart(a answers.Distributions) template.HTML {
	title := Measured(terminal, a.Measure)
	s := chart.Spreads{Frame: chart.Frame{ID: "distributions", Title: strings.ToUpper(title[:1]) + title[1:] + " by key",
		Desc: "Middle half, and nearly all, of the readings of each key, with its limits.", Width: 720, Few: Few(terminal)},
		X: chart.Axis{Label: a.Measure.Unit(), Log: LogAxis(a.Measure)}, Limits: LimitNames(terminal)}
	for _, r := range a.Rows {
		if r.N > 0 {
			row := Spread(r.Name, r.Quantiles, r.Limits, fmt.Sprintf("n %d", r.N))
			row.N = r.N
			s.Rows = append(s.Rows, row)
		}
	}
	return s.SVG()
}
