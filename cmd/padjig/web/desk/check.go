package desk

import (
	"context"
	"slices"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/fixture"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/evidence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// checkPage is the name of the page of the next check.
const checkPage = "nextcheck"

// checks finds, and has a jig do, the check that would tell most about a case.
type checks struct {
	finder
	lanes *control.Lanes
}

func (k checks) page(v *page.Visit, c returns.Case) (any, error) {
	x, err := k.examine(v, c)
	if err != nil {
		return nil, err
	}
	return k.view(v.Words, x), nil
}

// do has the jig do the check, and shows what that changes. It
// stores nothing, so the same check can be asked for again.
func (k checks) do(v *page.Visit, c returns.Case) (page.Answer, error) {
	x, err := k.examine(v, c)
	if err != nil {
		return page.Answer{}, err
	}
	check := x.before.Check
	if check == nil {
		return page.Answer{}, page.Wrong(v.Say("nextcheck.enough"))
	}
	if check.By != diagnose.Jig {
		return page.Answer{}, page.Wrong(v.Say("nextcheck.person", v.Facts().Diagnosis().Of(check.Say)))
	}
	n, _, err := k.lanes.Asked(v)
	if err != nil {
		return page.Answer{}, err
	}
	if err := said(v.Words, x.of.Allows(sequence.ReturnTest)); err != nil {
		return page.Answer{}, err
	}
	var looked diagnose.Looked
	err = runExclusive(v, k.lanes, x.of.Serial, n, station.ExclusiveTask{Product: x.product, Simulated: x.run.Simulated, Do: func(ctx context.Context, jig *fixture.Jig, plan *runner.Plan) (err error) {
		looked, err = plan.Look(ctx, jig, *check)
		return err
	}})
	if err != nil {
		return page.Answer{}, err
	}
	view := k.view(v.Words, x)
	came(v.Words, &view, x, looked)
	return page.Answer{Show: checkPage, View: view}, nil
}

// examined is the run whose diagnosis the page of a unit shows.
type examined struct {
	of       returns.Case
	run      runs.Stored
	product  *product.Product
	evidence readings.Unit
	before   diagnose.Diagnosis
}

func (k checks) examine(v *page.Visit, c returns.Case) (x examined, err error) {
	x.of = c
	shown, any := (&returned.Life{Case: x.of}).Diagnosis()
	made, err := k.store.Runs.Unit(v.Ctx(), x.of.Serial)
	if err != nil {
		return x, err
	}
	i := slices.IndexFunc(made, func(r runs.Stored) bool { return any && r.Seq == shown.Run })
	if i < 0 {
		return x, page.Wrong(v.Say("nextcheck.none"))
	}
	x.run = made[i]
	if x.product, err = k.store.Runs.Product(v.Ctx(), x.run); err != nil {
		return x, page.Wrong(v.Say("nextcheck.gone"))
	}
	if x.evidence, err = evidence.Of(x.run.Run, x.product); err != nil {
		return x, err
	}
	if x.evidence.Earlier, err = k.store.Care.Earlier(v.Ctx(), x.run, x.product.References.All()); err != nil {
		return x, err
	}
	x.before = diagnose.Diagnose(x.evidence)
	return x, nil
}

// nextCheckView is a check, and what came of it once it was done.
type nextCheckView struct {
	Case      int64         `json:"case"`
	Serial    string        `json:"serial"`
	Simulated bool          `json:"simulated"`
	Check     string        `json:"check"` // what to do; empty: nothing would tell more
	Refused   string        `json:"refused,omitempty"`
	Lanes     []page.Option `json:"-"`
	Came      string        `json:"came,omitempty"`
	Shifts    []shiftView   `json:"shifts,omitempty"`
	Next      string        `json:"next,omitempty"`
}

// shiftView is a cause before and after.
type shiftView struct {
	Cause string `json:"cause"`
	Place string `json:"place"`
	Was   string `json:"was"`
	Is    string `json:"is"`
	More  bool   `json:"more"` // likelier now
}

func (k checks) view(v page.Words, x examined) nextCheckView {
	view := nextCheckView{Case: x.of.Number, Serial: x.of.Serial, Simulated: x.run.Simulated}
	check := x.before.Check
	if check == nil {
		return view
	}
	view.Check = v.Facts().Diagnosis().Of(check.Say)
	view.Refused, view.Lanes = k.offer(v, x.of, *check)
	return view
}

// offer gives the lanes whose jig can do a check, or says why none may.
func (k checks) offer(v page.Words, c returns.Case, check diagnose.Check) (refused string, lanes []page.Option) {
	if check.By != diagnose.Jig {
		return v.Say("nextcheck.person", v.Facts().Diagnosis().Of(check.Say)), nil
	}
	if err := said(v, c.Allows(sequence.ReturnTest)); err != nil {
		return err.Error(), nil
	}
	if lanes = k.lanes.Testing(v, c.Product); len(lanes) == 0 {
		return v.Say("nextcheck.nolane", c.Product), nil
	}
	return "", lanes
}

// leastShift is the probability from which a cause is worth a line.
const leastShift = 0.02

// came adds what came out of the check and how it moved the causes.
func came(v page.Words, view *nextCheckView, x examined, looked diagnose.Looked) {
	after, words := diagnose.Diagnose(x.evidence, looked), v.Facts().Diagnosis()
	view.Came = words.Of(looked.Says)
	for _, s := range diagnose.Shifts(x.before, after) {
		if max(s.Was, s.Is) >= leastShift {
			view.Shifts = append(view.Shifts, shiftView{words.Kind(s.Cause.Kind), words.Of(s.Cause.Place), likely(v, s.Was), likely(v, s.Is), s.Is > s.Was})
		}
	}
	view.Next = v.Say("nextcheck.enough")
	if after.Check != nil {
		view.Next = words.Of(after.Check.Say)
	}
}

// likely never says that something is certain.
func likely(v page.Words, p float64) string {
	switch {
	case p > 0.99:
		return v.Say("nextcheck.above", 99)
	case p < 0.01:
		return v.Say("nextcheck.below", 1)
	}
	return v.Num(0, 100*p) + " %"
}

// able are the lanes that could do the check of a case, none where a
// person must.
func (k checks) able(v *page.Visit, c returns.Case) []page.Option {
	if len(c.Diagnoses) == 0 {
		return nil
	}
	x, err := k.examine(v, c)
	if err != nil || x.before.Check == nil {
		return nil // the page of the check says why
	}
	_, lanes := k.offer(v.Words, c, *x.before.Check)
	return lanes
}
