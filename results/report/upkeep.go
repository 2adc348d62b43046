package report

import (
	"time"

	"padjig/results/answers/upkeep"
	"padjig/results/care"
)

// Upkeep writes how the jigs stand.
func Upkeep(u upkeep.Upkeep) Document {
	return Document{Title: "Jigs", Selection: "all jigs that the records know", Tables: []Table{UpkeepTable(u)}, Conclusion: u.Conclusions}
}

// UpkeepTable has a row for each jig: what is the matter, what is left, and when it last tested.
func UpkeepTable(u upkeep.Upkeep) Table {
	return Table{Name: "jigs", Title: "Those that need something done first", Empty: "the records know no jig",
		Columns: Columns("jig, simulated, state, zero_days .1, verify_days .1, reference_days .1 minor, reference_units minor, part minor, " +
			"worn %, drift %, tested minor, product minor, more minor"),
		Rows: rows(u.Jigs, func(j upkeep.Jig) row {
			var state, part, worn, drift, tested, product any = Word("upkeep.good"), nil, nil, nil, nil, nil
			if len(j.Troubles) > 0 {
				state = j.Troubles[0].Words()
			}
			if j.Part != nil {
				part, worn = j.Part.Part, j.Part.Of()
			}
			if len(j.Drift.Points) > 0 {
				drift = j.Drift.Last()
			}
			if !j.Tested.IsZero() {
				tested = j.Tested
			}
			if j.Product != "" {
				product = j.Product
			}
			days, units := ReferenceLeft(j)
			return row{j.Jig.Serial, j.Simulated, state, DaysLeft(j.Zero, u.Now), DaysLeft(j.Verify, u.Now), days, units, part, worn, drift,
				tested, product, max(0, len(j.Troubles)-1)}
		})}
}

const day = 24 * time.Hour

// DaysLeft are the days until a calibration is due, below zero when it is overdue; nil where
// there is none that was good.
func DaysLeft(d care.Due, now time.Time) any {
	if d.Last == nil || !d.Last.Good {
		return nil
	}
	return d.Last.Due().Sub(now).Hours() / day.Hours()
}

// ReferenceLeft are the days, and the units, until the first reference unit is due; nil where
// none is due by them.
func ReferenceLeft(j upkeep.Jig) (days, units any) {
	var left *float64
	var n *int
	for _, r := range j.References {
		if d := r.Left.Time.Hours() / day.Hours(); r.Left.Timed && (left == nil || d < *left) {
			left = &d
		}
		if r.Left.Counted && (n == nil || r.Left.Units < *n) {
			n = &r.Left.Units
		}
	}
	if left != nil {
		days = *left
	}
	if n != nil {
		units = *n
	}
	return days, units
}
