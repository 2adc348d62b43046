package report

import (
	"fmt"

	"padjig/results/stats"
)

// RetestAsked is what a policy of testing again is judged by.
type RetestAsked struct {
	Errors   stats.TestErrors
	Bad      float64 // share of bad units before the test
	Policies []stats.RetestPolicy
	Current  stats.RetestPolicy // the one in force
	Of       string             // where the errors come from
}

// Retest reports what each policy lets through, throws away and costs.
func Retest(a RetestAsked) (Document, error) {
	d := Document{Title: "Retest policies", Selection: a.Of}
	t := Table{Name: "policies", Title: "Of all units", Columns: []Column{
		{Name: "policy", Head: "policy"}, {Name: "passed", Head: "passed", Unit: "%", Digits: 3},
		{Name: "escapes_ppm", Head: "bad passed, ppm", Digits: 1}, {Name: "escapes_of_passed_ppm", Head: "of passed, ppm", Digits: 1, Minor: true},
		{Name: "false_scrap_ppm", Head: "good scrapped, ppm", Digits: 1}, {Name: "scrap_of_good", Head: "of good", Unit: "%", Digits: 4, Minor: true},
		{Name: "tests", Head: "tests a unit", Digits: 4},
	}}
	yields := map[stats.RetestPolicy]stats.PolicyYield{}
	for _, p := range a.Policies {
		y, err := p.Yield(a.Errors, a.Bad)
		if err != nil {
			return Document{}, err
		}
		yields[p] = y
		t.Rows = append(t.Rows, []any{p.String(), y.Passed, 1e6 * y.Escapes, 1e6 * y.EscapesInOut, 1e6 * y.FalseScrap, y.ScrapOfGood, y.TestsPerUnit})
	}
	d.Tables = []Table{t}
	d.Conclusion = retestWords(a, yields)
	return d, nil
}

func retestWords(a RetestAsked, yields map[stats.RetestPolicy]stats.PolicyYield) []string {
	once, err := stats.TestOnce.Yield(a.Errors, a.Bad)
	now, listed := yields[a.Current]
	if err != nil || !listed {
		return nil
	}
	words := fmt.Sprintf("\"%s\" passes %.1f bad units in a million and scraps %.1f good ones, with %.4f tests a unit.",
		a.Current, 1e6*now.Escapes, 1e6*now.FalseScrap, now.TestsPerUnit)
	if a.Current != stats.TestOnce {
		words += fmt.Sprintf(" Against one test that is %+.1f bad passed and %+.1f good scrapped in a million.",
			1e6*(now.Escapes-once.Escapes), 1e6*(now.FalseScrap-once.FalseScrap))
	}
	caution := "A unit is taken to be good or bad and to stay so. A fault that comes and goes is not: testing it until it passes hides it, and no number here shows that."
	if a.Errors.Sticks == 0 {
		caution += " Tests of one unit are taken to err independently, the most hopeful case; see --sticks."
	}
	return []string{words, caution}
}
