package desk

import (
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results/returns"
	"padjig/sequence"
)

// lend does an errand of the desk on lane n, for a unit whose case allows that
// keys are pressed as in a test.
func lend(v *page.Visit, lanes *control.Lanes, c returns.Case, n int, e station.Errand) error {
	if err := asStage(c.Allows(sequence.ReturnTest)); err != nil {
		return err
	}
	if err := lanes.UseAtDesk(v, n); err != nil {
		return err
	}
	e.Serial, e.Operator = c.Serial, v.Person.Name
	return lent(v, lanes.All()[n-1].Lend(v.Ctx(), e))
}

// lent says why an errand was not done. A lane that does one waits for no
// lid, as it does with a test.
func lent(v *page.Visit, err error) error {
	if err == nil || v.Ctx().Err() != nil {
		return err
	}
	r := station.RefusalOf(err)
	if key := "lend." + string(r.Code); v.Has(key) {
		return page.Wrong(v.Say(key, page.Each(r.Args)...))
	}
	return page.Wrong(control.Refusal(v.Words, r))
}
