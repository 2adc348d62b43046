package station

import (
	"context"
	"errors"
	"fmt"
	"time"

	"padjig/cmd/padjig/station/watch"
	"padjig/fixture"
	"padjig/results/care"
	"padjig/results/nest"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/stops"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/runner"
	"padjig/sequence/wording"
)

// Hooks are what differs between those who have units tested: where the jig comes
// from, who is shown what, and what is kept beside the run.
type Hooks struct {
	Open Opener
	// Await waits until the jig would move and the unit before is out of it, which
	// exchanged finds out after the jig was made ready; nil: nobody waits.
	Await   func(ctx context.Context, jig *fixture.Jig, exchanged func(context.Context) error) error
	Watcher Watcher
	Memory  *runner.Memory                           // of the jig that Open gives, over all units since it was opened; nil: this is the first
	Keep    func(context.Context, runs.Stored) error // what belongs to the stored run; nil: nothing
	Show    func(Done) error

	around func(string, func() error) error // each step, to try it out; nil: nothing is
}

// Watcher shows a run while it goes on. It cannot hold the run up.
type Watcher interface {
	// Warn is told what a person should do something about soon.
	Warn(Warning)
	// Begin is told what is about to be done.
	Begin(plan *runner.Plan, unit sequence.Unit, limit int)
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
	Stops     []stops.Stop         // that hold now, for the line or for this unit
	Earlier   readings.Earlier     // what the units before failed with, for a diagnosis of one that did not pass
}

// Opener opens a jig and says how to close it, with whatever was opened beside it.
type Opener func(context.Context) (jig *fixture.Jig, closeAll func() error, err error)

// Held is the opener of a jig that is open already, and stays open.
func Held(jig *fixture.Jig) Opener {
	return func(context.Context) (*fixture.Jig, func() error, error) {
		return jig, func() error { return nil }, nil
	}
}

// Test takes a unit through everything. After a step that fails there is no
// other: the jig is made inert, and the unit let go of.
func (r Records) Test(ctx context.Context, job Job, hooks Hooks) error {
	ctx = store.Reserved(ctx)
	job.Asked = r.ask(job)
	t := &test{eligibility: eligibility{r, job}, hooks: hooks}
	defer t.letGo(context.WithoutCancel(ctx))
	for _, s := range []struct {
		name string
		do   func(context.Context) error
	}{
		{"preflight", t.preflight}, {"open the jig", t.open}, {"check the jig", t.check}, {"await that it would move", t.await},
		{"plan", t.prepare}, {"claim the unit", t.claim}, {"measure", t.measure}, {"hang up", t.hangUp},
		{"compare with the units before", t.compare}, {"save", t.save}, {"judge a reference unit", t.judge},
		{"stop the line", t.stopLine}, {"keep beside it", t.keep}, {"show", t.show},
	} {
		if t.jig == nil && t.begun != nil { // what has been tested is kept, also when somebody says stop
			ctx = context.WithoutCancel(ctx)
		}
		if err := hooks.step(s.name, func() error { return s.do(ctx) }); err != nil {
			return err
		}
	}
	return nil
}

func (d Hooks) step(name string, do func() error) error {
	if d.around == nil {
		return do()
	}
	return d.around(name, do)
}

// test is one unit on its way: what each step leaves for those behind it.
type test struct {
	eligibility
	hooks   Hooks
	history runs.History
	jig     *fixture.Jig // nil while there is none to let go of
	close   func() error
	nest    nest.Claim // as the jig last said
	plan    *runner.Plan
	begun   *runs.Begun // nil before the claim
	run     sequence.Run
	done    Done
}

// letGo leaves nothing behind, whatever ended the test. The run of a claim that
// was not saved stays unfinished in the records.
func (t *test) letGo(ctx context.Context) {
	if t.jig != nil {
		_ = t.jig.Inert(ctx) // that it does not answer has been said
		_ = t.hangUp(ctx)
	}
	if t.begun != nil {
		t.begun.LetGo()
	}
}

func (t *test) preflight(ctx context.Context) (err error) {
	t.history, err = t.eligible(ctx)
	return err
}

func (t *test) open(ctx context.Context) (err error) {
	t.jig, t.close, err = t.hooks.Open(ctx)
	return err
}

// check refuses for what is only known when it is known which jig this is, and has its zeros taken off the readings.
func (t *test) check(ctx context.Context) error {
	caps := t.jig.Capabilities()
	if caps.Simulated {
		if err := t.allowed(t.history, true); err != nil {
			return err
		}
	}
	fitness := Fitness{t.Records, t.Product, caps, time.Now()}
	if err := fitness.fit(ctx, t.Job, t.hooks.Watcher.Warn); err != nil {
		return err
	}
	t.tellLoops(caps.Simulated)
	zeros, err := fitness.Calibrated(ctx, t.hooks.Watcher.Warn)
	if err == nil {
		t.jig = t.jig.Zeroed(zeros)
		err = t.placed(ctx, caps)
	}
	return err
}

// tellLoops says how often the unit failed again after a repair, before it is tested once more.
func (t *test) tellLoops(simulated bool) {
	past := t.history.Of(t.Product.Code, simulated)
	if t.isReference() || t.Return != nil || t.Study || t.Engineering || past.Loops == 0 {
		return
	}
	args := []string{fmt.Sprint(past.Loops), fmt.Sprint(t.Product.RepairLoops)}
	t.hooks.Watcher.Warn(Warning{Code: Repaired, Args: args, Text: wording.Words{}.Refusal(string(Repaired), args)})
}

// await has the jig made ready, and refuses while the unit before is in it. Without
// anybody who waits, a jig that would not move shows that by what becomes of the run.
func (t *test) await(ctx context.Context) error {
	if t.hooks.Await != nil {
		return t.hooks.Await(ctx, t.jig, t.exchanged)
	}
	serial := t.jig.Capabilities().Serial
	switch err := movable(ctx, t.jig, serial); {
	case ctx.Err() != nil:
		return noJig(ErrStoppedBefore, serial)
	case err != nil && Stilled(err) == "":
		return err
	}
	return t.exchanged(ctx)
}

// prepare plans the test, and makes the revision it is made by known.
func (t *test) prepare(ctx context.Context) (err error) {
	caps := t.jig.Capabilities()
	if t.plan, err = t.Job.plan(caps); err != nil {
		return err
	}
	verified, err := t.Store.Care.Verified(ctx, caps.Serial, caps.Simulated)
	if err != nil {
		return t.unread(err)
	}
	t.plan.Memory = t.hooks.Memory.Verified(verified)
	if err := t.provable(t.plan, t.hooks.Watcher.Warn); err != nil {
		return err
	}
	return t.introduce(ctx, t.Product)
}

// claim stores that the run is made. Whether the unit may be tested is asked
// once more in that moment: it may have been tested elsewhere since the preflight.
func (t *test) claim(ctx context.Context) error {
	start := runs.Start{
		Serial: t.Serial, Jig: t.plan.JigName(), Simulated: t.plan.Jig.Simulated, Actuation: t.plan.Actuation,
		Operator: t.Operator, Purpose: t.plan.Purpose, Started: time.Now().UTC(), Nest: t.nest, Asked: t.Asked.Settle(ctx),
	}
	if word := start.Asked.Word; word.Alone() {
		args := []string{string(word)}
		t.hooks.Watcher.Warn(Warning{Code: Alone, Args: args, Text: wording.Words{}.Refusal(string(Alone), args)})
	}
	if t.Return != nil {
		start.Case = t.Return.Case.ID.String()
	}
	if err := t.placed(ctx, t.plan.Jig); err != nil { // the lid may have been open for minutes
		return err
	}
	begun, err := t.Store.Runs.Begin(ctx, RevisionOf(t.Product), start, func(h runs.History) error {
		if err := t.allowed(h, false); err != nil || !start.Simulated {
			return err
		}
		return t.allowed(h, true)
	})
	if err == nil {
		t.begun = begun
		return nil
	}
	if e, typed := errors.AsType[*runs.InHandError](err); typed {
		return t.inHand(ctx, e)
	}
	if r, typed := errors.AsType[*Refusal](err); typed {
		return r
	}
	if o, typed := errors.AsType[*nest.OccupiedError](err); typed {
		return t.stillIn(o)
	}
	if errors.Is(err, returns.ErrStage) {
		return t.stageRefused(err)
	}
	return t.refused(err, try("check records, untouched", t.At))
}

// measure runs the plan while the watcher follows. What stops it is in the run, and its cause beside that.
func (t *test) measure(ctx context.Context) error {
	unit := sequence.Unit{
		Serial: t.Serial, Operator: t.Operator, Case: t.begun.Case, Attempt: t.begun.Attempt, Started: t.begun.Started,
	}
	t.hooks.Watcher.Begin(t.plan, unit, t.limit())
	watch.Beside(t.hooks.Watcher.Step, func(news chan<- sequence.Progress) {
		t.run, t.done.Cause = t.plan.Run(ctx, t.jig, unit, news)
	})
	after := nest.CountOf(t.jig.Nest())
	t.begun.AtEnd = &after
	if t.done.Cause != nil && ctx.Err() != nil {
		t.run.Interrupt()
	}
	t.hooks.Watcher.End(t.run)
	return nil
}

// limit is the last attempt that the unit may have.
func (t *test) limit() int {
	return t.history.With(t.Asked.Known()).Of(t.Product.Code, t.plan.Jig.Simulated).Before + t.Product.Attempts
}

// hangUp closes the jig. It is inert by now; if it cannot even hang up, that blames no unit.
func (t *test) hangUp(context.Context) error {
	t.jig = nil
	_ = t.close()
	return nil
}

func (t *test) save(ctx context.Context) (err error) {
	t.done.Stored, err = t.Record(ctx, t.begun, t.run)
	return err
}

// judge judges and records a stored run over a reference unit.
func (t *test) judge(ctx context.Context) error {
	run := t.done.Stored
	if !t.isReference() || t.unreleased() || run.Outcome == sequence.Aborted || run.Outcome == sequence.HarnessGood {
		return nil // it says nothing of the keys; the check before stands, and what is due stays due
	}
	baseline, err := t.Store.Care.Baseline(ctx, run.Jig.Serial, t.Serial, run.Simulated)
	if err != nil {
		return t.unread(err)
	}
	bad, _ := t.Product.Reference(t.Serial)
	t.done.Reference = &care.ReferenceCheck{
		Run: run.ID, Unit: t.Serial, Bad: bad != nil, Why: calibrate.JudgeReference(t.Product, run.Run, baseline),
	}
	if err := t.Store.Care.SaveReferenceCheck(ctx, *t.done.Reference); err != nil {
		return t.refused(err, try("reference again"))
	}
	return nil
}

// stopLine writes down that the run stopped the line, or is the last one of its unit. Were
// it not written, the next unit would be refused all the same.
func (t *test) stopLine(ctx context.Context) (err error) {
	if t.isReference() || t.Study || t.Return != nil {
		return nil
	}
	run := t.done.Stored
	t.done.Stops, err = t.stops(ctx, t.Product, stops.Line{
		Jig: run.Jig.Serial, Product: run.Product, Simulated: run.Simulated,
	}, run.Serial)
	return err
}

func (t *test) keep(ctx context.Context) error {
	if t.hooks.Keep == nil {
		return nil
	}
	return t.hooks.Keep(ctx, t.done.Stored)
}

// show tells what became of the unit. The verdict stands by then, and that nobody can say
// what the units before failed with changes nothing of it.
func (t *test) show(ctx context.Context) error {
	if run := t.done.Stored; run.Outcome == sequence.Fail || run.Outcome == sequence.Reseat {
		if earlier, err := t.Store.Care.Earlier(ctx, run, t.Product.References.All()); err == nil {
			t.done.Earlier = earlier
		}
	}
	return t.hooks.Show(t.done)
}
