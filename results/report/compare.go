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
	return Table{Name: "yield", Columns: Columns("side, units, first_pass % .2, final % .2"),
		Rows: rows(c.Sides[:], func(s answers.YieldRow) row { return row{s.Groups[0], s.Units, s.First, s.Final} })}
}

// DifferenceTable has what tells the two yields apart.
func DifferenceTable(c answers.Comparison) Table {
	t := Table{Name: "difference", Empty: "nothing tells the two yields apart",
		Columns: Columns("difference % .2, odds_passing .3, p")}
	if math.IsNaN(float64(c.P)) {
		return t
	}
	t.Rows = [][]any{{c.Difference, c.Odds, c.P}}
	if w := c.Within; w != nil && w.Why == nil {
		t.Columns = append(t.Columns, Columns("strata, odds_within .3, p_within")...)
		t.Rows[0] = append(t.Rows[0], w.Strata, w.Odds, w.P)
	}
	return t
}

// ComparedTable has a row for each key.
func ComparedTable(c answers.Comparison) Table {
	return Table{Name: "compare", Columns: Columns("key, n_a, n_b, shift .2 " + c.Measure.Unit() +
		", larger % minor, rank_p minor, shape_p minor, holm_p, bh_p, why_not minor"),
		Rows: rows(c.Rows, func(k answers.KeyComparison) row {
			if k.Why != nil {
				return row{k.Key, k.N[0], k.N[1], nil, nil, nil, nil, nil, nil, k.Why.Error()}
			}
			return row{k.Key, k.N[0], k.N[1], k.Shift, k.Larger, k.RankP, k.ShapeP, k.HolmP, k.BHP, nil}
		})}
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
