package report

import (
	"fmt"
	"html/template"

	"padjig/results/answers"
	"padjig/results/report/chart"
)

// Sampling writes a sampling plan with its operating characteristic.
func Sampling(s answers.Sampling) Document {
	d := Document{Title: "Sampling plan", Selection: "lots from a process with a steady share of bad units"}
	d.Tables = []Table{PlanTable(s), CurveTable(s)}
	d.Charts = []Chart{{Title: "Operating characteristic", SVG: func() template.HTML { return curveChart(s) }}}
	d.Conclusion = s.Conclusions
	if s.Sequential {
		d.Tables = append(d.Tables, SequentialTable(s), SequentialCurveTable(s))
	}
	return d
}

// PlanTable is the plan and its risks.
func PlanTable(s answers.Sampling) Table {
	t := Table{Name: "plan", Title: "The plan", Columns: []Column{{Name: "sample"}, {Name: "accept"}, {Name: "reject"},
		{Name: "producer_risk", Unit: "%", Digits: 2}, {Name: "consumer_risk", Unit: "%", Digits: 2}}}
	row := []any{s.Plan.N, s.Plan.Accept, s.Plan.Accept + 1, s.Producer, s.Consumer}
	if s.Lot > 0 {
		t.Columns = append(t.Columns, Column{Name: "worst_outgoing", Unit: "%", Digits: 3},
			Column{Name: "worst_at", Unit: "%", Digits: 2})
		row = append(row, s.WorstOutgoing, s.WorstAt)
	}
	t.Rows = [][]any{row}
	return t
}

// CurveTable is the operating characteristic.
func CurveTable(s answers.Sampling) Table {
	t := Table{Name: "curve", Title: "What becomes of a lot, by its share of bad units",
		Columns: []Column{{Name: "bad", Unit: "%", Digits: 3}, {Name: "accepted", Unit: "%", Digits: 2}}}
	if s.Lot > 0 {
		t.Columns = append(t.Columns, Column{Name: "outgoing", Unit: "%", Digits: 3}, Column{Name: "tested", Digits: 1})
	}
	for _, p := range s.Curve {
		row := []any{p.Bad, p.Accepted}
		if s.Lot > 0 {
			row = append(row, p.Outgoing, p.Tested)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func curveChart(s answers.Sampling) template.HTML {
	c := chart.Curves{Frame: chart.Frame{ID: "curve", Title: "Operating characteristic",
		Desc: "Chance that a lot is accepted, over its share of bad units.", Width: 720, Height: 320},
		X: chart.Axis{Label: "bad units in the lot, %"}, Y: chart.Axis{Label: "accepted, %", To: 100}}
	line := chart.Curve{Name: fmt.Sprintf("%d of %d", s.Plan.Accept, s.Plan.N)}
	for _, p := range s.Drawn {
		line.X, line.Y = append(line.X, 100*p.Bad), append(line.Y, 100*p.Accepted)
	}
	c.Curves = []chart.Curve{line}
	c.Marks = []chart.Mark{{X: 100 * s.Risks.Good, Y: 100 * (1 - s.Producer), Text: percent(1 - s.Producer)},
		{X: 100 * s.Risks.Bad, Y: 100 * s.Consumer, Text: percent(s.Consumer)}}
	return c.SVG()
}

// SequentialTable lists where the numbers of the sequential test change.
func SequentialTable(s answers.Sampling) Table {
	t := Table{Name: "sequential", Title: "Unit by unit: stop as soon as the failed reach one of the numbers",
		Columns: []Column{{Name: "tested"}, {Name: "accept"}, {Name: "reject"}}}
	for _, step := range s.Steps {
		t.Rows = append(t.Rows, []any{step.Tested, countOrNothing(step.Accept), countOrNothing(step.Reject)})
	}
	return t
}

func countOrNothing(n int) any {
	if n < 0 {
		return nil
	}
	return n
}

// SequentialCurveTable tells what the sequential test does.
func SequentialCurveTable(s answers.Sampling) Table {
	t := Table{Name: "sequential_curve", Title: "What the sequential test does",
		Columns: []Column{{Name: "bad", Unit: "%", Digits: 3},
			{Name: "accepted", Unit: "%", Digits: 2}, {Name: "tested_average", Digits: 1}}}
	for _, p := range s.Curve {
		t.Rows = append(t.Rows, []any{p.Bad, p.SequentialAccepted, p.Average})
	}
	return t
}
