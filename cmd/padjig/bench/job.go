package bench

import (
	"context"
	"errors"
	"fmt"
	"time"

	"padjig/fixture"
	"padjig/results"
	"padjig/results/care"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Job is one unit to be tested and stored.
type Job struct {
	Product  *product.Product
	Store    *results.Store
	Serial   string
	Operator string
	How      sequence.Actuation // empty for what the jig can do
	Watcher  Watcher
	// Return is the stage of a returns case that is made; nil for production.
	Return *Return
	// Overridden lets a unit be tested although it passed or used its attempts
	// up. Whoever sets it has recorded by whom and why.
	Overridden bool
	// Study makes the run a reading of a gauge study: neither an attempt nor
	// production, whatever is known of the unit.
	Study bool
	// At is what the remedies for the terminal need to reach the same records,
	// such as " --store FILE".
	At string
}

// Watcher shows a run while it goes on. It cannot hold the run up.
type Watcher interface {
	// Warn is told what a person should do something about soon.
	Warn(Warning)
	// Begin is told what is about to be done.
	Begin(plan *sequence.Plan, unit sequence.Unit, limit int)
	// Step is told of progress.
	Step(sequence.Progress)
	// End is told what became of the steps; it must not show a verdict.
	End(run sequence.Run)
}

// Warning is what a person should do something about soon.
type Warning struct {
	Code Code
	Args []string
	Text string // the sentence for a terminal
}

// Done is a unit whose result is stored.
type Done struct {
	runs.Stored
	Cause     error                // of a run that was aborted
	Reference *care.ReferenceCheck // what a reference unit showed; nil for other units
}

// Opener opens a jig and says how to close it, with whatever was opened beside it.
type Opener func(context.Context) (jig *fixture.Jig, closeAll func() error, err error)

// TestOn takes the unit through everything on a jig that is opened for it.
func (j *Job) TestOn(ctx context.Context, open Opener) (Done, error) {
	history, err := j.admit(ctx)
	if err != nil {
		return Done{}, err
	}
	jig, closeJig, err := open(ctx)
	if err != nil {
		return Done{}, err
	}
	run, cause, begun, err := j.tested(ctx, jig, history)
	// The jig is inert by now; if it cannot even hang up, that blames no unit.
	_ = closeJig()
	if err != nil {
		return Done{}, err
	}
	return j.finish(ctx, begun, run, cause)
}

// Admit says whether the unit may be tested at all.
func (j *Job) Admit(ctx context.Context) error {
	_, err := j.admit(ctx)
	return err
}

func (j *Job) admit(ctx context.Context) (runs.History, error) {
	if err := j.Store.Room(ctx); errors.Is(err, store.ErrMoved) {
		return runs.History{}, j.noRecords(err)
	} else if err != nil {
		return runs.History{}, refuse(NotRecorded, err, try("make room"), NoRoom)
	}
	if err := j.revision(ctx); err != nil {
		return runs.History{}, err
	}
	history, err := j.Store.Runs.History(ctx, j.Serial)
	if err != nil {
		return history, j.noRecords(err)
	}
	if history.InHand != nil {
		return history, inHand(&runs.InHandError{Start: *history.InHand})
	}
	if err := j.returns(ctx); err != nil {
		return history, err
	}
	return history, j.allowed(history, false)
}

// noRecords refuses for records that cannot be read.
func (j *Job) noRecords(err error) error {
	return j.notRecorded(err, try("check records", j.At))
}

func (j *Job) notRecorded(err error, remedy sequence.Said) error {
	if errors.Is(err, store.ErrMoved) {
		return refuse(NotRecorded, err, try("put records back", j.At), RecordsMoved)
	}
	return refuse(NotRecorded, err, remedy, NoRecords)
}

// inHand refuses a unit that is being tested somewhere.
func inHand(e *runs.InHandError) error {
	return refuse(Wrong, e, try("read label"),
		InHand, e.Serial, e.Host, e.Jig.Serial, e.Started.Local().Format(time.TimeOnly))
}

// allowed refuses a unit for what is known of it. What simulated jigs found
// counts for tests on simulated jigs alone. Reference units come again and again.
func (j *Job) allowed(h runs.History, simulated bool) error {
	if _, reference := j.Product.Reference(j.Serial); reference || j.Return != nil {
		return nil
	}
	where := ""
	if simulated {
		where = "simulated"
	}
	for _, other := range h.Products {
		if other.Product != j.Product.Code && other.Simulated == simulated {
			return refuse(Wrong, nil, try("right product", j.Serial, j.At),
				OtherProduct, j.Serial, other.Product, j.Product.Code)
		}
	}
	past := h.Of(j.Product.Code, simulated)
	switch {
	case j.Overridden, j.Study:
		return nil
	case past.Passed:
		return refuse(Wrong, nil, try("next unit", j.Serial, j.At), PassedAlready, j.Serial, past.PassedAs, where)
	case past.Used() >= j.Product.Attempts && past.Used() > past.Judged:
		return refuse(Wrong, nil, try("set aside", j.Serial, j.At), AttemptsSpent, j.Serial, fmt.Sprint(past.Judged),
			fmt.Sprint(past.Found), fmt.Sprint(past.Unfinished), j.Product.Code, where)
	case past.Judged >= j.Product.Attempts:
		return refuse(Wrong, nil, try("set aside", j.Serial, j.At), AttemptsUsed, j.Serial, fmt.Sprint(past.Judged),
			j.Product.Code, where)
	}
	return nil
}

func (j *Job) tested(ctx context.Context, jig *fixture.Jig, history runs.History) (
	run sequence.Run, cause error, begun *runs.Begun, err error) {
	if err := j.standing(ctx, jig, history); err != nil {
		return run, nil, nil, err
	}
	return j.perform(ctx, jig)
}

// perform plans the test, claims the unit, and runs the test. An error means
// that nothing moved; what stops a run later is in the run, and its cause beside it.
func (j *Job) perform(ctx context.Context, jig *fixture.Jig) (run sequence.Run, cause error, begun *runs.Begun, err error) {
	plan, err := j.plan(jig.Capabilities())
	if err != nil {
		return run, nil, nil, err
	}
	if err := j.introduce(ctx); err != nil {
		return run, nil, nil, err
	}
	if begun, err = j.begin(ctx, plan); err != nil {
		return run, nil, nil, err
	}
	unit := sequence.Unit{
		Serial: j.Serial, Operator: j.Operator, Case: begun.Case, Attempt: begun.Attempt, Started: begun.Started,
	}
	run, cause = j.watched(ctx, jig, plan, unit)
	return run, cause, begun, nil
}

// begin stores that the run is made, before anything moves. Whether the unit may
// be tested is asked once more in that moment: it may have been tested elsewhere
// since it was admitted.
func (j *Job) begin(ctx context.Context, plan *sequence.Plan) (*runs.Begun, error) {
	start := runs.Start{
		Serial: j.Serial, Jig: plan.JigName(), Simulated: plan.Jig.Simulated, Actuation: plan.Actuation,
		Operator: j.Operator, Purpose: plan.Purpose, Case: j.Return.id(), Started: time.Now().UTC(),
	}
	begun, err := j.Store.Runs.Begin(ctx, RevisionOf(j.Product), start, func(h runs.History) error {
		if err := j.allowed(h, false); err != nil || !plan.Jig.Simulated {
			return err
		}
		return j.allowed(h, true)
	})
	if err == nil {
		return begun, nil
	}
	if e, typed := errors.AsType[*runs.InHandError](err); typed {
		return nil, inHand(e)
	}
	if r, typed := errors.AsType[*Refusal](err); typed {
		return nil, r
	}
	if errors.Is(err, returns.ErrStage) {
		return nil, j.stageRefused(err)
	}
	return nil, j.notRecorded(err, try("check records, untouched", j.At))
}

// standing refuses for what is only known when it is known which jig this is,
// and has its zeros taken off the readings.
func (j *Job) standing(ctx context.Context, jig *fixture.Jig, history runs.History) error {
	caps := jig.Capabilities()
	if caps.Simulated {
		if err := j.allowed(history, true); err != nil {
			return err
		}
	}
	if err := j.fit(ctx, caps, time.Now()); err != nil {
		return err
	}
	zeros, err := j.Calibrated(ctx, caps, time.Now())
	if err == nil {
		jig.SetZero(zeros)
	}
	return err
}

func (j *Job) plan(caps fixture.Capabilities) (*sequence.Plan, error) {
	how := j.How
	if how == "" {
		how = sequence.DefaultActuation(j.Product, caps)
	}
	plan, err := j.Return.plan(j.Product, caps, how)
	if err != nil {
		return nil, refuse(Wrong, fmt.Errorf("plan %s on jig %s: %w", j.Product.Code, caps.Serial, err),
			PlanRemedy(err), NotPlanned, caps.Serial)
	}
	if j.Study {
		plan.Purpose = sequence.GaugeStudy
	}
	return plan, nil
}

// PlanRemedy says what to do about an error of a plan.
func PlanRemedy(err error) sequence.Said {
	if _, listed := errors.AsType[sequence.Problems](err); listed {
		return try("another way")
	}
	return try("see product")
}

// watched runs the plan while the watcher follows.
func (j *Job) watched(ctx context.Context, jig sequence.Jig, plan *sequence.Plan, unit sequence.Unit) (sequence.Run, error) {
	j.Watcher.Begin(plan, unit, j.Product.Attempts)
	news, over := make(chan sequence.Progress, 1024), make(chan struct{})
	go func() {
		defer close(over)
		for p := range news {
			j.Watcher.Step(p)
		}
	}()
	run, err := plan.Run(ctx, jig, unit, news)
	close(news)
	<-over
	if err != nil && ctx.Err() != nil {
		run.Interrupt()
	}
	j.Watcher.End(run)
	return run, err
}

// finish stores and judges what has been tested, also when somebody said stop meanwhile.
func (j *Job) finish(ctx context.Context, begun *runs.Begun, run sequence.Run, cause error) (Done, error) {
	ctx = context.WithoutCancel(ctx)
	stored, err := j.Record(ctx, begun, run)
	if err != nil {
		return Done{}, err
	}
	reference, err := j.judgeReference(ctx, stored)
	return Done{Stored: stored, Cause: cause, Reference: reference}, err
}

// Record stores the run that was begun and gives back what is stored: what is shown is that.
func (j *Job) Record(ctx context.Context, begun *runs.Begun, run sequence.Run) (runs.Stored, error) {
	untested := try("check records, untested", j.At)
	id, err := begun.Save(ctx, run)
	if err != nil {
		return runs.Stored{}, j.notRecorded(err, untested)
	}
	stored, err := j.Store.Runs.Run(context.WithoutCancel(ctx), id)
	if err != nil {
		return runs.Stored{}, j.notRecorded(err, untested)
	}
	return stored, nil
}

// RevisionOf is a product as the records keep it.
func RevisionOf(p *product.Product) runs.Revision {
	return runs.Revision{Code: p.Code, Title: p.Title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical()}
}
