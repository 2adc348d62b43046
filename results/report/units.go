package report

import (
	"fmt"
	"math"

	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/report/chart"
)

// Units lists the units behind a figure.
func Units(u units.Units) Document {
	d := about(u.Selection, "Units", lines.Mixture{})
	t := UnitTable(u)
	t.Title = fmt.Sprintf("%d of %d units, where each was judged first, the newest first", len(u.Rows), u.All)
	d.Tables = []Table{t}
	d.Conclusion = u.Conclusions
	return d
}

// UnitTable has a row for each unit: where it was judged first, and the reading asked for.
func UnitTable(u units.Units) Table {
	m, columns := u.Behind.Measure, "serial, started, verdict"
	if m != "" {
		columns += fmt.Sprintf(", value %s .2", m.Unit())
	}
	return Table{Name: "units", Empty: "no unit", Most: 40, Columns: Columns(columns + ", jig, cause minor, run minor"),
		Rows: rows(u.Rows, func(r lines.Unit) row {
			out := row{r.Serial, r.Started, Word("verdict." + map[bool]string{true: "pass", false: "fail"}[r.Passed])}
			if m != "" {
				if math.IsNaN(r.Value) {
					out = append(out, nil)
				} else {
					out = append(out, r.Value)
				}
			}
			return append(out, r.Jig, r.Fault, int(r.Seq))
		})}
}

// Few is what charts do with groups of few units.
func Few(lang string) chart.Few {
	return chart.Few{Least: answers.LeastDrawn, Words: Say(lang, answers.Say("chart.few", answers.LeastDrawn))}
}
