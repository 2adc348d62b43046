package report

import (
	"fmt"

	"padjig/results/answers/plans"
)

// Retest writes what each policy lets through, throws away and costs.
func Retest(r plans.Retest) Document {
	t := RetestTable(r)
	t.Title = "Of all units"
	return Document{Title: "Retest policies",
		Selection: fmt.Sprintf("units of which %s are bad, by a test that fails %s of the good and passes %s of the bad",
			percent(r.Bad), percent(r.Errors.FalseReject), percent(r.Errors.FalseAccept)), Tables: []Table{t}, Conclusion: r.Conclusions}
}

// RetestTable has a row for each policy.
func RetestTable(r plans.Retest) Table {
	return Table{Name: "policies", Columns: Columns("policy, passed % .3, escapes_ppm .1, escapes_of_passed_ppm .1 minor," +
		"false_scrap_ppm .1, scrap_of_good % .4 minor, tests .4"),
		Rows: rows(r.Rows, func(p plans.PolicyRow) row {
			return row{p.Code(), p.Passed, 1e6 * p.Escapes, 1e6 * p.EscapesInOut, 1e6 * p.FalseScrap, p.ScrapOfGood, p.TestsPerUnit}
		})}
}
