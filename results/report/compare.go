package report

import (
	"fmt"
	"html/template"
	"math"

	"padjig/results/answers"
	"padjig/results/report/chart"
)

// Compared writes how two sides differ: in yield, and in readings key by key.
func Compared(c answers.Comparison) Document {
	d := about(c.Selection, fmt.Sprintf("%s %s against %s", c.By, c.A, c.B), c.Mixed)
	sides := SideTable(c)
	sides.Title = fmt.Sprintf("First-pass and final yield, %s intervals", confidenceOf(c.Selection))
	d.Tables = []Table{sides, DifferenceTable(c)}
	if !c.Yields {
		t := ComparedTable(c)
		t.Title = Measured(terminal, c.Measure) + ", key by key"
		d.Tables = append(d.Tables, t)
		d.Charts = []Chart{{Title: "Shift of each key", SVG: func() template.HTML { return shiftsChart(c) }}}
	}
	d.Conclusion = c.Conclusions
	return d
}

// SideTable has the yields of both sides.
func SideTable(c answers.Comparison) Table {
	t := Table{Name: "yield", Columns: []Column{{Name: "side"}, {Name: "units"},
		{Name: "first_pass", Unit: "%", Digits: 2}, {Name: "final", Unit: "%", Digits: 2}}}
	for _, s := range c.Sides {
		t.Rows = append(t.Rows, []any{s.Groups[0], s.Units, s.First, s.Final})
	}
	return t
}

// DifferenceTable has what tells the two yields apart.
func DifferenceTable(c answers.Comparison) Table {
	t := Table{Name: "difference", Empty: "nothing tells the two yields apart",
		Columns: []Column{{Name: "difference", Unit: "%", Digits: 2}, {Name: "odds_passing", Digits: 3}, {Name: "p"}}}
	if !math.IsNaN(float64(c.P)) {
		t.Rows = [][]any{{c.Difference, c.Odds, c.P}}
	}
	return t
}

// ComparedTable has a row for each key.
func ComparedTable(c answers.Comparison) Table {
	t := Table{Name: "compare", Columns: []Column{{Name: "key"}, {Name: "n_a"}, {Name: "n_b"},
		{Name: "shift", Unit: c.Measure.Unit(), Digits: 2}, {Name: "larger", Unit: "%", Minor: true}, {Name: "rank_p",
			Minor: true}, {Name: "shape_p", Minor: true},
		{Name: "holm_p"}, {Name: "bh_p"}, {Name: "why_not", Minor: true}}}
	for _, k := range c.Rows {
		if k.Why != nil {
			t.Rows = append(t.Rows, []any{k.Key, k.N[0], k.N[1], nil, nil, nil, nil, nil, nil, k.Why.Error()})
			continue
		}
		t.Rows = append(t.Rows, []any{k.Key, k.N[0], k.N[1], k.Shift, k.Larger, k.RankP, k.ShapeP, k.HolmP, k.BHP, nil})
	}
	return t
}

func shiftsChart(c answers.Comparison) template.HTML {
	k := chart.Intervals{Frame: chart.Frame{ID: "shifts", Title: "Shift of " + c.A + " against " + c.B,
		Desc: "Shift of the readings of each key with its interval.", Width: 720},
		X: chart.Axis{Label: c.Measure.Unit()}, Reference: 0, ReferenceText: "no shift"}
	for _, r := range c.Rows {
		if r.Why == nil {
			k.Rows = append(k.Rows, chart.Interval{Name: r.Key, Value: r.Shift.Value, Low: r.Shift.Low, High: r.Shift.High,
				Second: math.NaN(), Text: "p " + Probability(terminal, float64(r.HolmP))})
		}
	}
	return k.SVG()
}
