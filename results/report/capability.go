package report

import (
	"fmt"
	"html/template"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report/chart"
	"padjig/sequence/wording"
)

// Capability writes how well each key keeps to its limits.
func Capability(c answers.Capability) Document {
	d := about(c.Selection, "Capability of "+Measured(terminal, c.Measure), lines.Mixture{})
	t := CapabilityTable(c)
	t.Title = fmt.Sprintf("Capability, %s intervals", confidenceOf(c.Selection))
	d.Tables = []Table{t}
	d.Charts = []Chart{{Title: "Readings and limits", SVG: func() template.HTML { return capabilityChart(c) }}}
	d.Before, d.Conclusion = c.Before, c.Conclusions[len(c.Before):]
	return d
}

// CapabilityTable has a row for each key.
func CapabilityTable(c answers.Capability) Table {
	return Table{Name: "capability", Columns: Columns("key, n, no_reading, remarks minor, mean .2 minor " + c.Measure.Unit() + ", sd .2 minor, within .2 minor " + c.Measure.Unit() +
		", lower .1 minor, upper .1 minor, normal_p minor, cpk .2 minor, ppk .2, out % .2, cp .2 minor, pp .2 minor, method, outside minor," +
		"expected_ppm .1 minor, why_not minor"),
		Rows: rows(c.Rows, func(k answers.KeyCapability) row {
			lower, upper := limit(k.Limits[0]), limit(k.Limits[1])
			if k.Why != nil {
				return row{k.Key, k.N, k.NoReading, nil, nil, nil, nil, lower, upper, nil, nil, nil, k.Out, nil, nil, nil, nil, nil, k.Why.Error()}
			}
			return row{k.Key, k.N, k.NoReading, remarked(k.Remarks), k.Mean, k.SD, k.Within, lower, upper, k.NormalP, k.Cpk, k.Ppk, k.Out, k.Cp, k.Pp,
				Word("method." + string(k.Method)), k.Outside, finite(k.ExpectedPPM), nil}
		})}
}

// remarked is what is to be looked at before an index.
func remarked(codes []string) (words Words) {
	for _, code := range codes {
		words = append(words, Word("remark."+code))
	}
	return words
}

func capabilityChart(c answers.Capability) template.HTML {
	s := chart.Spreads{Frame: chart.Frame{ID: "capability", Title: Measured(terminal, c.Measure) + " by key",
		Desc: "Middle half, and nearly all, of the readings of each key, with its limits.", Width: 720}, X: chart.Axis{Label: c.Measure.Unit()}, Limits: LimitNames(terminal)}
	for _, k := range c.Rows {
		if k.Why == nil {
			s.Rows = append(s.Rows, Spread(k.Key, k.Quantiles, k.Limits, PpkText(terminal, k)))
		}
	}
	return s.SVG()
}

// PpkText is the index of a key beside its drawing, or that it has none, and the share of
// units that it says nothing of.
func PpkText(lang wording.Words, k answers.KeyCapability) string {
	index := "Ppk " + Number(lang, 2, k.Ppk.Value)
	if k.Method == answers.NoMethod {
		index = word(lang, "method.none")
	}
	return index + " · " + OutText(lang, k)
}

// OutText is the share of units outside or without a reading.
func OutText(lang wording.Words, k answers.KeyCapability) string {
	out := 100 * k.Out.Value
	return Say(lang, answers.Say("chart.out", Number(lang, DigitsFor(max(out, 0.1)), out)))
}

// Spread is a row of a drawing of distributions.
func Spread(name string, q answers.Quantiles, limits [2]float64, text string) chart.Spread {
	return chart.Spread{Name: name, Text: text, Least: q.Least, P5: q.P5, P25: q.P25, P50: q.Median, P75: q.P75,
		P95: q.P95, Most: q.Most,
		Lower: orNone(limits[0]), Upper: orNone(limits[1])}
}
