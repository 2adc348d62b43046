package report

import (
	"fmt"
	"html/template"
	"math"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report/chart"
)

// Yield writes first-pass and final yields.
func Yield(y answers.Yield) Document {
	d := about(y.Selection, "Yield", y.Mixed)
	d.Tables = []Table{YieldTable("yield", y.By, y.Rows), StopTable(y.Stops)}
	d.Tables[0].Title = fmt.Sprintf("First-pass and final yield, %s intervals", confidenceOf(y.Selection))
	d.Charts = []Chart{{Title: "First-pass yield", SVG: func() template.HTML { return yieldChart(y.Rows) }}}
	d.Conclusion = y.Conclusions
	return d
}

// YieldTable has a row for each group of units.
func YieldTable(name string, by []lines.Dimension, rows []answers.YieldRow) Table {
	t := Table{Name: name, Empty: "no unit was judged"}
	for _, b := range by {
		t.Columns = append(t.Columns, Column{Name: string(b)})
	}
	t.Columns = append(t.Columns, Column{Name: "units"},
		Column{Name: "first_pass", Unit: "%", Digits: 2}, Column{Name: "final", Unit: "%", Digits: 2},
		Column{Name: "retests", Minor: true}, Column{Name: "cures", Minor: true}, Column{Name: "relapses", Minor: true},
		Column{Name: "runs", Minor: true}, Column{Name: "reseat", Minor: true}, Column{Name: "incomplete",
			Minor: true}, Column{Name: "aborted", Minor: true})
	for _, r := range rows {
		var row []any
		for i := range by {
			row = append(row, named(r.Groups[i]))
		}
		t.Rows = append(t.Rows, append(row, r.Units, r.First, r.Final, r.Retests, r.Cures, r.Relapses, r.Runs,
			r.Reseat, r.Incomplete, r.Aborted))
	}
	return t
}

func yieldChart(rows []answers.YieldRow) template.HTML {
	c := chart.Intervals{Frame: chart.Frame{ID: "yield", Title: "First-pass yield",
		Desc: "First-pass yield of each group with its interval.", Width: 720},
		Reference: math.NaN(), X: chart.Axis{Label: "first-pass yield, %"}}
	for _, r := range rows {
		if r.Units > 0 {
			c.Rows = append(c.Rows, chart.Interval{Name: groupName(r.Groups), Value: 100 * r.First.Value,
				Second: math.NaN(),
				Low:    100 * r.First.Low, High: 100 * r.First.High, Text: fmt.Sprintf("%.1f %% of %d", 100*r.First.Value,
					r.Units)})
		}
	}
	return c.SVG()
}

// StopTable lists where a stop rule would have halted the line.
func StopTable(s answers.Stops) Table {
	t := Table{Name: "stops", Title: fmt.Sprintf("Stops over the last %d units", s.Units),
		Empty:   "the stop rule was met nowhere",
		Columns: []Column{{Name: "serial"}, {Name: "run"}, {Name: "started"}, {Name: "reason"}}}
	for _, stop := range s.Met {
		reason := fmt.Sprintf("%d of %d passed", stop.Passed, s.Rule.Window)
		if stop.Finding != "" {
			reason = fmt.Sprintf("%d in a row: %s", stop.Run, stop.Finding)
		}
		t.Rows = append(t.Rows, []any{stop.Unit.Serial, int(stop.Unit.Seq), stop.Unit.Started, reason})
	}
	return t
}
