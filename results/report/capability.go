package report

import (
	"fmt"
	"html/template"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report/chart"
)

// Capability writes how well each key keeps to its limits.
func Capability(c answers.Capability) Document {
	d := about(c.Selection, "Capability of "+Measured(terminal, c.Measure), lines.Mixture{})
	t := CapabilityTable(c)
	t.Title = fmt.Sprintf("Capability, %s intervals", confidenceOf(c.Selection))
	d.Tables = []Table{t}
	d.Charts = []Chart{{Title: "Readings and limits", SVG: func() template.HTML { return capabilityChart(c) }}}
	d.Conclusion = c.Conclusions
	return d
}

// CapabilityTable has a row for each key.
func CapabilityTable(c answers.Capability) Table {
	return Table{Name: "capability", Columns: Columns("key, n, mean .2 " + c.Measure.Unit() + ", sd .2, within .2 minor " + c.Measure.Unit() +
		", lower .1 minor, upper .1 minor, normal_p, cpk .2 minor, ppk .2, cp .2 minor, pp .2 minor, method," +
		"tails_seen minor, outside minor, expected_ppm .1 minor, over_range minor, why_not minor"),
		Rows: rows(c.Rows, func(k answers.KeyCapability) row {
			lower, upper := limit(k.Limits[0]), limit(k.Limits[1])
			if k.Why != nil {
				return row{k.Key, k.N, nil, nil, nil, lower, upper, nil, nil, nil, nil, nil, nil, nil, nil, nil, k.Over, k.Why.Error()}
			}
			var tails any
			if k.Method == answers.ByPercentiles {
				tails = k.TailsSeen
			}
			return row{k.Key, k.N, k.Mean, k.SD, k.Within, lower, upper, k.NormalP, k.Cpk, k.Ppk, k.Cp, k.Pp,
				Word("method." + string(k.Method)), tails, k.Outside, finite(k.ExpectedPPM), k.Over, nil}
		})}
}

func capabilityChart(c answers.Capability) template.HTML {
	s := chart.Spreads{Frame: chart.Frame{ID: "capability", Title: Measured(terminal, c.Measure) + " by key",
		Desc: "Middle half, and nearly all, of the readings of each key, with its limits.", Width: 720}, X: chart.Axis{Label: c.Measure.Unit()}, Limits: LimitNames(terminal)}
	for _, k := range c.Rows {
		if k.Why == nil {
			s.Rows = append(s.Rows, Spread(k.Key, k.Quantiles, k.Limits, fmt.Sprintf("Ppk %.2f", k.Ppk.Value)))
		}
	}
	return s.SVG()
}

// Spread is a row of a drawing of distributions.
func Spread(name string, q answers.Quantiles, limits [2]float64, text string) chart.Spread {
	return chart.Spread{Name: name, Text: text, Least: q.Least, P5: q.P5, P25: q.P25, P50: q.Median, P75: q.P75,
		P95: q.P95, Most: q.Most,
		Lower: orNone(limits[0]), Upper: orNone(limits[1])}
}
