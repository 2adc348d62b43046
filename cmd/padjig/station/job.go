package station

import (
	"errors"
	"fmt"

	"padjig/fixture"
	"padjig/results/plant/asked"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/prove"
	"padjig/sequence/runner"
	"padjig/sequence/wording"
)

// Job is a unit to be tested: which, by which limits, and what for.
type Job struct {
	Product  *product.Product
	Serial   string
	Operator string
	How      sequence.Actuation // empty for what the jig can do
	// Return is the stage of a returns case that is made; nil for production.
	Return *Return
	// Overridden lets a unit be tested although it passed or used its attempts
	// up. Whoever sets it has recorded by whom and why.
	Overridden bool
	// Partial lets a unit be tested on a jig that cannot prove all that the product
	// requires. Such a test does not pass.
	Partial bool
	// Study makes the run a reading of a gauge study: neither an attempt nor
	// production, whatever is known of the unit.
	Study bool
	// Engineering tries a definition, released or not, on a unit: neither an attempt
	// nor production. The unit still needs its test.
	Engineering bool
	// Asked is what other stations know of the unit, where it was asked for already.
	Asked *asked.Question
}

// Return is a stage of a returns case.
type Return struct {
	Case       returns.Case
	Purpose    sequence.Purpose
	Exercising sequence.Exercising // of an exercise
}

// plan plans the test on a jig.
func (j Job) plan(caps fixture.Capabilities) (*runner.Plan, error) {
	how := j.How
	if how == "" {
		how = runner.DefaultActuation(j.Product, caps)
	}
	plan, err := j.pressed(caps, how)
	if err != nil {
		return nil, refuse(Wrong, fmt.Errorf("plan %s on jig %s: %w", j.Product.Code, caps.Serial, err),
			PlanRemedy(err), NotPlanned, caps.Serial)
	}
	switch {
	case j.Return != nil:
		plan = plan.For(j.Return.Purpose)
	case j.Study:
		plan = plan.For(sequence.GaugeStudy)
	case j.Engineering:
		plan = plan.For(sequence.Engineering)
	}
	return plan, nil
}

// provable refuses a test of production that could not pass whatever the unit is: nobody
// should press keys, and wear a unit and a jig, to learn that. Whoever wants what the jig
// can show says so. Other runs look at what they can; they are warned of.
func (j Job) provable(plan *runner.Plan, warn func(Warning)) error {
	lacks := plan.Lacks().Proofs()
	if len(lacks) == 0 || plan.Actuation == sequence.Electrical { // that passes nothing
		return nil
	}
	args := []string{plan.Jig.Serial, j.Product.Code, prove.Listed(lacks)}
	if plan.Purpose == sequence.Production && !j.Partial {
		return refuse(Wrong, nil, try("proving jig", args[2]), NotProvable, args...)
	}
	if plan.Purpose != sequence.GaugeStudy && plan.Purpose != sequence.FirstPress && plan.Purpose != sequence.Exercise {
		warn(Warning{PartialTest, args, wording.Words{}.Refusal(string(PartialTest), args)})
	}
	return nil
}

func (j Job) pressed(caps fixture.Capabilities, how sequence.Actuation) (*runner.Plan, error) {
	if r := j.Return; r != nil {
		return runner.NewStage(j.Product, caps, how, r.Purpose, r.Exercising)
	}
	return runner.NewPlan(j.Product, caps, how)
}

// PlanRemedy says what to do about an error of a plan.
func PlanRemedy(err error) sequence.Said {
	if _, listed := errors.AsType[runner.Problems](err); listed {
		return try("another way")
	}
	return try("see product")
}

// isReference reports whether the unit is one of the product's reference units.
func (j Job) isReference() bool {
	_, is := j.Product.Reference(j.Serial)
	return is
}
