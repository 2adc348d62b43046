package report

import (
	"fmt"
	"html/template"
	"math"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report/chart"
	"padjig/sequence/wording"
)

// Yield writes first-pass and final yields.
func Yield(y answers.Yield) Document {
	d := about(y.Selection, "Yield", y.Mixed)
	d.Tables = []Table{YieldTable("yield", y.By, y.Rows), StopTable(y.Stops)}
	d.Tables[0].Title = fmt.Sprintf("First-pass and final yield, %s intervals", confidenceOf(y.Selection))
	d.Charts = []Chart{{Title: "First-pass yield", SVG: func() template.HTML { return yieldChart(y.Rows, y.Target) }}}
	d.Conclusion = y.Conclusions
	return d
}

// YieldTable has a row for each group of units.
func YieldTable(name string, by []lines.Dimension, list []answers.YieldRow) Table {
	t := Table{Name: name, Empty: "no unit was judged"}
	for _, b := range by {
		t.Columns = append(t.Columns, Column{Name: string(b)})
	}
	t.Columns = append(t.Columns, Columns("units, first_pass % .2, final % .2, retests minor, cures minor, relapses minor,"+
		"runs minor, reseat minor, incomplete minor, aborted minor")...)
	for _, r := range list {
		var groups row
		for i := range by {
			groups = append(groups, named(r.Groups[i]))
		}
		t.Rows = append(t.Rows, append(groups, r.Units, r.First, r.Final, r.Retests, r.Cures, r.Relapses, r.Runs,
			r.Reseat, r.Incomplete, r.Aborted))
	}
	return t
}

// TargetLine is the line of a target on charts of yields in per cent, and its name; not a
// number for none.
func TargetLine(words wording.Words, t answers.Target) (at float64, name string) {
	if t == 0 {
		return math.NaN(), ""
	}
	return 100 * float64(t), Say(words, answers.Say("yield.target", t.Percent()))
}

func yieldChart(list []answers.YieldRow, target answers.Target) template.HTML {
	c := chart.Intervals{Frame: chart.Frame{ID: "yield", Title: "First-pass yield",
		Desc: "First-pass yield of each group with its interval.", Width: 720, Few: Few(terminal)},
		X: chart.Axis{Label: "first-pass yield, %", Most: 100}}
	c.Reference, c.ReferenceText = TargetLine(terminal, target)
	for _, r := range list {
		if r.Units > 0 {
			c.Rows = append(c.Rows, chart.Interval{Name: groupName(r.Groups), Value: 100 * r.First.Value,
				Second: math.NaN(), N: r.Units,
				Low: 100 * r.First.Low, High: 100 * r.First.High, Text: fmt.Sprintf("%.1f %% of %d", 100*r.First.Value,
					r.Units)})
		}
	}
	return c.SVG()
}

// StopTable lists where a stop rule would have halted the line.
func StopTable(s answers.Stops) Table {
	return Table{Name: "stops", Title: fmt.Sprintf("Stops over the last %d units", s.Units), Empty: "the stop rule was met nowhere",
		Columns: Columns("serial, run, started, reason"),
		Rows: rows(s.Met, func(stop answers.Stop) row {
			reason := fmt.Sprintf("%d of %d passed", stop.Passed, s.Rule.Window)
			if stop.Finding != "" {
				reason = fmt.Sprintf("%d in a row: %s", stop.Run, stop.Finding)
			}
			return row{stop.Unit.Serial, int(stop.Unit.Seq), stop.Unit.Started, reason}
		})}
}
