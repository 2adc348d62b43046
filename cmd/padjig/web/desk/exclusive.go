package desk

import (
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/sequence"
)

// runExclusive does a task of the desk on lane n that is no test. Whoever asks for it has looked whether
// the unit may be pressed as in a test.
func runExclusive(v *page.Visit, lanes *control.Lanes, serial string, n int, e station.ExclusiveTask) error {
	if err := lanes.UseAtDesk(v, n); err != nil {
		return err
	}
	e.Serial, e.Operator = serial, v.Person.Name
	return notDone(v, lanes.All()[n-1].RunExclusive(v.Ctx(), e))
}

// pressable refuses a unit that must not be pressed as in a test: it came back, and its first press is not stored.
func (f finder) pressable(v *page.Visit, serial string) error {
	number, err := f.store.Returns.OpenCaseOf(v.Ctx(), serial)
	if err != nil || number == 0 {
		return err
	}
	c, err := f.store.Returns.Case(v.Ctx(), number)
	if err != nil {
		return err
	}
	return said(v.Words, c.Allows(sequence.ReturnTest))
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
	return control.Refused(v.Words, r)
}
