package bench

import (
	"context"
	"fmt"

	"padjig/fixture"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Return is a stage of a returns case.
type Return struct {
	Case       returns.Case
	Purpose    sequence.Purpose
	Exercising sequence.Exercising // of an exercise
}

// returns keeps a unit that came back out of production, whose first press must
// be a gentle one, and the stages of its case in their order.
func (j *Job) returns(ctx context.Context) error {
	if j.Return != nil {
		return j.stage(ctx)
	}
	number, err := j.Store.Returns.OpenCaseOf(ctx, j.Serial)
	switch {
	case err != nil:
		return j.noRecords(err)
	case number > 0:
		return refuse(Wrong, nil, try("returns case", j.Serial, j.At), Returned, j.Serial, fmt.Sprint(number))
	}
	return nil
}

// stage refuses a stage that the case does not allow now, by the records as they are now.
func (j *Job) stage(ctx context.Context) error {
	now, err := j.Store.Returns.Case(ctx, j.Return.Case.Number)
	if err != nil {
		return j.noRecords(err)
	}
	j.Return.Case = now
	if err := now.Allows(j.Return.Purpose); err != nil {
		return j.stageRefused(err)
	}
	if now.Product != j.Product.Code {
		return refuse(Wrong, nil, try("product of case"), OtherProduct, j.Serial, now.Product, j.Product.Code)
	}
	return nil
}

func (j *Job) stageRefused(err error) error {
	return refuse(Wrong, err, try("returns case", j.Serial, j.At),
		StageRefused, j.Serial, string(j.Return.Purpose))
}

// plan plans the stage; a nil r plans production.
func (r *Return) plan(p *product.Product, caps fixture.Capabilities, how sequence.Actuation) (*sequence.Plan, error) {
	switch {
	case r == nil:
		return sequence.NewPlan(p, caps, how)
	case how == sequence.Electrical:
		return nil, sequence.Problems{"a stage of a returns case needs its keys pressed: an electrical press does not touch them"}
	case r.Purpose == sequence.FirstPress:
		return sequence.NewFirstPress(p, caps, how)
	case r.Purpose == sequence.Exercise:
		return sequence.NewExercise(p, caps, r.Exercising)
	}
	plan, err := sequence.NewPlan(p, caps, how)
	if err == nil {
		plan.Purpose = r.Purpose
	}
	return plan, err
}

// id is that of the case, empty for production.
func (r *Return) id() string {
	if r == nil {
		return ""
	}
	return r.Case.ID.String()
}
