package report

import (
	"fmt"
	"math"
	"strings"

	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/report/chart"
	"padjig/sequence/wording"
)

// Units lists the units behind a figure.
func Units(u units.Units) Document {
	d := about(u.Selection, "Units", lines.Mixture{})
	t := UnitTable(u)
	of := "%d of %d units, where each was judged first, the newest first"
	if u.More {
		of = "%d of more than %d units, where each was judged first, the newest first"
	}
	t.Title = fmt.Sprintf(of, len(u.Rows), u.All)
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
				out = append(out, r.Value)
			}
			return append(out, r.Jig, r.Fault, int(r.Seq))
		})}
}

// Limit writes a limit with as many digits as it was given with.
func Limit(lang wording.Words, v float64) string {
	for d := range 6 {
		if p := math.Pow(10, float64(d)); math.Abs(v*p-math.Round(v*p)) < 1e-9*math.Abs(v*p) {
			return Number(lang, d, v)
		}
	}
	return Number(lang, DigitsFor(v), v)
}

// LimitNames are what limits of the product are called on charts.
func LimitNames(lang wording.Words) [2]string {
	return [2]string{strings.TrimSpace(Say(lang, answers.Say("chart.lsl", ""))), strings.TrimSpace(Say(lang, answers.Say("chart.usl", "")))}
}

// Few is what charts do with groups of few units.
func Few(lang wording.Words) chart.Few {
	return chart.Few{Least: answers.SmallGroup, Words: Say(lang, answers.Say("chart.few", answers.SmallGroup))}
}
