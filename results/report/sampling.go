package report

import (
	"fmt"
	"html/template"

	"padjig/results/answers/plans"
	"padjig/results/report/chart"
)

// Sampling writes a sampling plan with its operating characteristic.
func Sampling(s plans.Sampling) Document {
	d := Document{Title: "Sampling plan", Selection: "lots from a process with a steady share of bad units"}
	if s.Lot > 0 {
		d.Selection = fmt.Sprintf("lots of %d units, each sample drawn from its lot by chance", s.Lot)
	}
	d.Tables = []Table{PlanTable(s), CurveTable(s)}
	d.Charts = []Chart{{Title: "Operating characteristic", SVG: func() template.HTML { return curveChart(s) }}}
	d.Conclusion = s.Conclusions
	if s.Sequential {
		d.Tables = append(d.Tables, SequentialTable(s), SequentialCurveTable(s))
	}
	return d
}

// PlanTable is the plan and its risks.
func PlanTable(s plans.Sampling) Table {
	line, plan := "sample, accept, reject, producer_risk % .2, consumer_risk % .2", row{s.Plan.N, s.Plan.Accept, s.Plan.Accept + 1, s.Producer, s.Consumer}
	if s.Lot > 0 {
		line, plan = line+", worst_outgoing % .3, worst_at % .2", append(plan, s.WorstOutgoing, s.WorstAt)
	}
	return Table{Name: "plan", Title: "The plan", Columns: Columns(line), Rows: [][]any{plan}}
}

// CurveTable is the operating characteristic.
func CurveTable(s plans.Sampling) Table {
	t := Table{Name: "curve", Title: "What becomes of a lot, by its share of bad units", Columns: Columns("bad % .3, accepted % .2")}
	if s.Lot > 0 {
		t.Columns = Columns("bad_units, bad % .3, accepted % .2, outgoing % .3, tested .1")
	}
	t.Rows = rows(s.Curve, func(p plans.SamplingPoint) row {
		if s.Lot > 0 {
			return row{p.BadUnits, p.Bad, p.Accepted, p.Outgoing, p.Tested}
		}
		return row{p.Bad, p.Accepted}
	})
	return t
}

func curveChart(s plans.Sampling) template.HTML {
	c := chart.Curves{Frame: chart.Frame{ID: "curve", Title: "Operating characteristic",
		Desc: "Chance that a lot is accepted, over its share of bad units.", Width: 720, Height: 320},
		X: chart.Axis{Label: "bad units in the lot, %"}, Y: chart.Axis{Label: "accepted, %", To: 100}}
	line := chart.Curve{Name: fmt.Sprintf("%d of %d", s.Plan.Accept, s.Plan.N)}
	for _, p := range s.Drawn {
		line.X, line.Y = append(line.X, 100*p.Bad), append(line.Y, 100*p.Accepted)
	}
	c.Curves = []chart.Curve{line}
	good, bad := s.Risks.Good, s.Risks.Bad
	if s.Lot > 0 {
		good, bad = s.Good.Share(), s.Bad.Share()
	}
	c.Marks = []chart.Mark{{X: 100 * good, Y: 100 * (1 - s.Producer), Text: percent(1 - s.Producer)},
		{X: 100 * bad, Y: 100 * s.Consumer, Text: percent(s.Consumer)}}
	return c.SVG()
}

// SequentialTable lists where the numbers of the sequential test change.
func SequentialTable(s plans.Sampling) Table {
	return Table{Name: "sequential", Title: "Unit by unit: stop as soon as the failed reach one of the numbers",
		Columns: Columns("tested, accept, reject"),
		Rows: rows(s.Steps, func(step plans.SequentialStep) row {
			return row{step.Tested, countOrNothing(step.Accept), countOrNothing(step.Reject)}
		})}
}

func countOrNothing(n int) any {
	if n < 0 {
		return nil
	}
	return n
}

// SequentialCurveTable tells what the sequential test does.
func SequentialCurveTable(s plans.Sampling) Table {
	return Table{Name: "sequential_curve", Title: "What the sequential test does", Columns: Columns("bad % .3, accepted % .2, tested_average .1"),
		Rows: rows(s.Curve, func(p plans.SamplingPoint) row { return row{p.Bad, p.SequentialAccepted, p.Average} })}
}
