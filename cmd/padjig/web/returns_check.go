package web

import (
	"context"
	"slices"

	"padjig/cmd/padjig/bench"
	"padjig/fixture"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/product"
)

// nextCheckPage is the check that would tell most about a case.
var nextCheckPage = page{path: "/returns/check", name: "nextcheck", who: desk, view: func(v *visit) (any, error) {
	x, err := v.examined()
	if err != nil {
		return nil, err
	}
	return v.nextCheckView(x), nil
}}

// nextCheckAction has the jig do the check, and shows what that changes. It
// stores nothing, so the same check can be asked for again.
var nextCheckAction = action{path: "/returns/check", who: desk, do: func(v *visit) (answer, error) {
	x, err := v.examined()
	if err != nil {
		return answer{}, err
	}
	check := x.before.Check
	if check == nil {
		return answer{}, wrong(v.say("nextcheck.enough"))
	}
	if check.By != diagnose.Jig {
		return answer{}, wrong(v.say("nextcheck.person", check.Say))
	}
	n, _, err := v.laneOfForm()
	if err != nil {
		return answer{}, err
	}
	var looked diagnose.Looked
	err = v.lend(x.of, n, bench.Errand{Product: x.product, Simulated: x.run.Simulated, Do: func(ctx context.Context, jig *fixture.Jig, plan *sequence.Plan) (err error) {
		looked, err = plan.Look(ctx, jig, *check)
		return err
	}})
	if err != nil {
		return answer{}, err
	}
	view := v.nextCheckView(x)
	v.came(&view, x, looked)
	return answer{page: &nextCheckPage, view: view}, nil
}}

// examined is the run whose diagnosis the page of a unit shows.
type examined struct {
	of       returns.Case
	run      runs.Stored
	product  *product.Product
	evidence diagnose.Evidence
	before   diagnose.Diagnosis
}

func (v *visit) examined() (examined, error) {
	c, err := v.caseOfForm()
	if err != nil {
		return examined{}, err
	}
	return v.examine(c)
}

func (v *visit) examine(c returns.Case) (x examined, err error) {
	x.of = c
	shown, any := (&returned.Life{Case: x.of}).Diagnosis()
	made, err := v.site.Store.Runs.Unit(v.ctx(), x.of.Serial)
	if err != nil {
		return x, err
	}
	i := slices.IndexFunc(made, func(r runs.Stored) bool { return any && r.Seq == shown.Run })
	if i < 0 {
		return x, wrong(v.say("nextcheck.none"))
	}
	x.run = made[i]
	if x.product, err = v.site.Store.Runs.Product(v.ctx(), x.run); err != nil {
		return x, wrong(v.say("nextcheck.gone"))
	}
	if x.evidence, err = sequence.EvidenceOf(x.run.Run, x.product); err != nil {
		return x, err
	}
	x.before = diagnose.Diagnose(x.evidence)
	return x, nil
}

// nextCheckView is a check, and what came of it once it was done.
type nextCheckView struct {
	Case      int64       `json:"case"`
	Serial    string      `json:"serial"`
	Simulated bool        `json:"simulated"`
	Check     string      `json:"check"` // what to do; empty: nothing would tell more
	Refused   string      `json:"refused,omitempty"`
	Lanes     []option    `json:"-"`
	Came      string      `json:"came,omitempty"`
	Shifts    []shiftView `json:"shifts,omitempty"`
	Next      string      `json:"next,omitempty"`
}

// shiftView is a cause before and after.
type shiftView struct {
	Cause string `json:"cause"`
	Place string `json:"place"`
	Was   string `json:"was"`
	Is    string `json:"is"`
	More  bool   `json:"more"` // likelier now
}

func (v *visit) nextCheckView(x examined) nextCheckView {
	view := nextCheckView{Case: x.of.Number, Serial: x.of.Serial, Simulated: x.run.Simulated}
	check := x.before.Check
	if check == nil {
		return view
	}
	view.Check = check.Say
	view.Refused, view.Lanes = v.checkOffer(x.of, *check)
	return view
}

// checkOffer gives the lanes whose jig can do a check, or says why none may.
func (v *visit) checkOffer(c returns.Case, check diagnose.Check) (refused string, lanes []option) {
	if check.By != diagnose.Jig {
		return v.say("nextcheck.person", check.Say), nil
	}
	if err := c.Allows(sequence.ReturnTest); err != nil {
		return err.Error(), nil
	}
	if lanes = v.lanesFor(c.Product); len(lanes) == 0 {
		return v.say("nextcheck.nolane", c.Product), nil
	}
	return "", lanes
}

// leastShift is the probability from which a cause is worth a line.
const leastShift = 0.02

// came adds what came out of the check and how it moved the causes.
func (v *visit) came(view *nextCheckView, x examined, looked diagnose.Looked) {
	x.evidence.Looked = append(slices.Clip(x.evidence.Looked), looked)
	after := diagnose.Diagnose(x.evidence)
	view.Came = looked.Says
	for _, s := range diagnose.Shifts(x.before, after) {
		if max(s.Was, s.Is) >= leastShift {
			view.Shifts = append(view.Shifts, shiftView{string(s.Cause.Kind), s.Cause.Place, v.likely(s.Was), v.likely(s.Is), s.Is > s.Was})
		}
	}
	view.Next = v.say("nextcheck.enough")
	if after.Check != nil {
		view.Next = after.Check.Say
	}
}

// likely never says that something is certain.
func (v *visit) likely(p float64) string {
	switch {
	case p > 0.99:
		return v.say("nextcheck.above", 99)
	case p < 0.01:
		return v.say("nextcheck.below", 1)
	}
	return v.num(0, 100*p) + " %"
}

// checkingOf are the lanes that could do the check of a case, none where a
// person must.
func (v *visit) checkingOf(c returns.Case) []option {
	if len(c.Diagnoses) == 0 {
		return nil
	}
	x, err := v.examine(c)
	if err != nil || x.before.Check == nil {
		return nil // the page of the check says why
	}
	_, lanes := v.checkOffer(c, *x.before.Check)
	return lanes
}
