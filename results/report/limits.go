package report

import (
	"fmt"

	"padjig/results/answers"
	"padjig/results/lines"
)

// Limits writes tolerance intervals of readings, key by key, and what proposed
// limits would have done to the units they were taken from.
func Limits(w answers.WhatIf) Document {
	d := about(w.Selection, "What-if limits: "+Measured(terminal, w.Measure), lines.Mixture{})
	t := ToleranceTable(w)
	t.Title = fmt.Sprintf("Tolerance intervals in %s for %s of units, confidence %s", w.Measure.Unit(),
		percent(w.Coverage), confidenceOf(w.Selection))
	d.Tables = []Table{t}
	if w.Proposed != nil {
		outcome, changes := OutcomeTable(w), ChangeTable(w)
		outcome.Title = fmt.Sprintf("What limits do to these units, %s intervals", confidenceOf(w.Selection))
		changes.Title = fmt.Sprintf("Units judged otherwise, guard band %.3g U", w.GuardU)
		d.Tables = append(d.Tables, outcome, changes)
	}
	d.Conclusion = w.Conclusions
	return d
}

// ToleranceTable has a row for each key.
func ToleranceTable(w answers.WhatIf) Table {
	t := Table{Name: "tolerance", Columns: Columns("key, n, mean .2 minor, sd .3 minor, normal_p")}
	ends := map[answers.Side][]string{answers.OnlyUpper: {"to"}, answers.OnlyLower: {"from"},
		answers.BothSides: {"from", "to"}}[w.Side]
	for _, of := range []string{"normal", "free", "limit"} {
		for _, end := range ends {
			t.Columns = append(t.Columns, Column{Name: of + "_" + end, Digits: 2})
		}
	}
	t.Columns = append(t.Columns, Column{Name: "why_not", Minor: true})
	for _, k := range w.Tolerances {
		row := []any{k.Key, k.N, finite(k.Mean), finite(k.SD), k.NormalP}
		for _, i := range []answers.Interval{k.Normal, k.Free, {Low: orNone(k.Limits[0]), High: orNone(k.Limits[1])}} {
			for _, end := range ends {
				row = append(row, finite(map[string]float64{"from": i.Low, "to": i.High}[end]))
			}
		}
		why := reason(k.Why)
		if why == nil && k.WhyNoFree != nil {
			why = "distribution-free: " + k.WhyNoFree.Error()
		}
		t.Rows = append(t.Rows, append(row, why))
	}
	return t
}

// OutcomeTable has a row for each guard band, with the limits in force and with
// those proposed.
func OutcomeTable(w answers.WhatIf) Table {
	return Table{Name: "outcome", Columns: Columns("limits, guard .2, units, rejected, share % .1, bad_accepted .3, good_rejected .3"),
		Rows: rows(w.Outcomes, func(o answers.Outcome) row {
			name := Word("limitset.in force")
			if o.Proposed {
				name = "limitset.proposed"
			}
			if !o.Limited {
				return row{name, o.Guard, w.Units, nil, nil, nil, nil}
			}
			return row{name, o.Guard, w.Units, o.Rejected, o.Share, o.BadAccepted, o.GoodRejected}
		})}
}

// ChangeTable names the units that the proposed limits judge otherwise.
func ChangeTable(w answers.WhatIf) Table {
	return Table{Name: "changes", Empty: "none", Most: 20, Columns: Columns("serial, run, change"),
		Rows: rows(w.Changes, func(c answers.Change) row {
			if c.LetThrough {
				return row{c.Serial, int(c.Run), Word("change.would be let through")}
			}
			return row{c.Serial, int(c.Run), Word("change.would be rejected")}
		})}
}
