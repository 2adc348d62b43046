package desk

import (
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results/returns"
	"padjig/sequence"
)

// runExclusive does a task of the desk on lane n that is no test, for a unit whose case allows that
// keys are pressed as in a test.
func runExclusive(v *page.Visit, lanes *control.Lanes, c returns.Case, n int, e station.ExclusiveTask) error {
	if err := said(v.Words, c.Allows(sequence.ReturnTest)); err != nil {
		return err
	}
	if err := lanes.UseAtDesk(v, n); err != nil {
		return err
	}
	e.Serial, e.Operator = c.Serial, v.Person.Name
	return notDone(v, lanes.All()[n-1].RunExclusive(v.Ctx(), e))
}

// notDone says why a task was not done. A lane that does one waits for no
// lid, as it does with a test.
func notDone(v *page.Visit, err error) error {
	if err == nil || v.Ctx().Err() != nil {
		return err
	}
	r := station.RefusalOf(err)
	if key := "exclusive." + string(r.Code); v.Has(key) {
		return page.Wrong(v.Say(key, page.Each(r.Args)...))
	}
	return page.Wrong(control.Refusal(v.Words, r))
}
