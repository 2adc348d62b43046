package report

import (
	"fmt"

	"padjig/results/answers"
)

// Retest writes what each policy lets through, throws away and costs.
func Retest(r answers.Retest) Document {
	t := RetestTable(r)
	t.Title = "Of all units"
	return Document{Title: "Retest policies",
		Selection: fmt.Sprintf("units of which %s are bad, by a test that fails %s of the good and passes %s of the bad",
			percent(r.Bad), percent(r.Errors.FalseReject), percent(r.Errors.FalseAccept)), Tables: []Table{t}, Conclusion: r.Conclusions}
}

// RetestTable has a row for each policy.
func RetestTable(r answers.Retest) Table {
	t := Table{Name: "policies", Columns: []Column{{Name: "policy"}, {Name: "passed", Unit: "%", Digits: 3},
		{Name: "escapes_ppm", Digits: 1}, {Name: "escapes_of_passed_ppm", Digits: 1, Minor: true},
		{Name: "false_scrap_ppm", Digits: 1}, {Name: "scrap_of_good", Unit: "%", Digits: 4,
			Minor: true}, {Name: "tests", Digits: 4}}}
	for _, p := range r.Rows {
		t.Rows = append(t.Rows, []any{p.Code(), p.Passed, 1e6 * p.Escapes, 1e6 * p.EscapesInOut, 1e6 * p.FalseScrap,
			p.ScrapOfGood, p.TestsPerUnit})
	}
	return t
}
