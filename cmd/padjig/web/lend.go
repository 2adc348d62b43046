package web

import (
	"strconv"

	"padjig/cmd/padjig/bench"
	"padjig/results/returns"
	"padjig/sequence"
)

// lanesFor are the lanes that test a product.
func (v *visit) lanesFor(code string) (lanes []option) {
	for i, lane := range v.site.Lanes {
		if state := lane.State(); state.Product.Code == code {
			lanes = append(lanes, option{Value: strconv.Itoa(i + 1), Text: v.say("stage.lane", i+1, state.Jig.Serial)})
		}
	}
	return lanes
}

// laneWith is the lane that has a unit in hand, 0 for none.
func (v *visit) laneWith(serial string) int {
	for i, lane := range v.site.Lanes {
		if state := lane.State(); state.Phase.Busy() && state.Unit.Serial == serial {
			return i + 1
		}
	}
	return 0
}

// lend does an errand of the desk on lane n, for a unit whose case allows that
// keys are pressed as in a test.
func (v *visit) lend(c returns.Case, n int, e bench.Errand) error {
	if err := v.asStage(c.Allows(sequence.ReturnTest)); err != nil {
		return err
	}
	if !v.site.controls[n-1].use("desk "+v.Person.Name, v.Person.Name) {
		return v.held(n)
	}
	e.Serial, e.Operator = c.Serial, v.Person.Name
	return v.lentSay(v.site.Lanes[n-1].Lend(v.ctx(), e))
}

// lentSay says why an errand was not done. A lane that does one waits for no
// lid, as it does with a test.
func (v *visit) lentSay(err error) error {
	if err == nil || v.ctx().Err() != nil {
		return err
	}
	r := bench.RefusalOf(err)
	if key := "lend." + string(r.Code); v.site.text.has(key) {
		return wrong(v.say(key, each(r.Args)...))
	}
	return wrong(v.refusal(r))
}
