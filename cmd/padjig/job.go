package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"padjig/fixture"
	"padjig/results"
	"padjig/sequence"
	"padjig/sequence/product"
)

// job is one unit to be tested and stored.
type job struct {
	product  *product.Product
	store    *results.Store
	serial   string
	operator string
	how      sequence.Actuation // empty for what the jig can do
	watcher  watcher
	cause    error // of a run that was aborted, afterwards

	reference *results.ReferenceCheck // what a reference unit showed, afterwards
}

// watcher shows a run while it goes on. It cannot hold the run up.
type watcher interface {
	// warn is told what a person should do something about soon.
	warn(what string)
	// begin is told what is about to be done.
	begin(plan *sequence.Plan, unit sequence.Unit, limit int)
	// step is told of progress.
	step(sequence.Progress)
	// end is told what became of the steps; it must not show a verdict.
	end(run sequence.Run)
}

// opener opens a jig and says how to close it, with whatever was opened beside it.
type opener func(context.Context) (jig *fixture.Jig, closeAll func() error, err error)

// testOn takes the unit through everything, in the order that keeps it safe:
// what forbids the test comes before the jig hears of it, and the result is
// stored before anybody else does.
func (j *job) testOn(ctx context.Context, open opener) (results.Stored, error) {
	history, err := j.admit(ctx)
	if err != nil {
		return results.Stored{}, err
	}
	jig, closeJig, err := open(ctx)
	if err != nil {
		return results.Stored{}, err
	}
	run, err := j.perform(ctx, jig, history)
	// The jig is inert by now; if it cannot even hang up, that blames no unit.
	_ = closeJig()
	if err != nil {
		return results.Stored{}, err
	}
	stored, err := j.record(ctx, run)
	if err == nil {
		j.reference, err = j.judgeReference(ctx, stored)
	}
	return stored, err
}

// admit says whether the unit may be tested at all.
func (j *job) admit(ctx context.Context) (results.History, error) {
	if err := j.store.Room(ctx); err != nil {
		return results.History{}, fail(statusNotRecorded, err, "make room, then start this unit; it was not touched")
	}
	history, err := j.store.History(ctx, j.serial)
	if err != nil {
		return history, fail(statusNotRecorded, err, "padjig records check"+storeArgument(j.store))
	}
	return history, j.allowed(history, false)
}

// allowed refuses a unit for what is known of it. What simulated jigs found
// counts for tests on simulated jigs alone. Reference units come again and again.
func (j *job) allowed(h results.History, simulated bool) error {
	if _, reference := j.product.Reference(j.serial); reference {
		return nil
	}
	look := "padjig unit " + j.serial + storeArgument(j.store)
	for _, other := range h.Products {
		if other.Product != j.product.Code && other.Simulated == simulated {
			return fail(statusWrong,
				fmt.Errorf("unit %s is a %s by its records, not a %s", j.serial, other.Product, j.product.Code),
				"the right --product; what is known of the unit: "+look)
		}
	}
	past := h.Of(j.product.Code, simulated)
	switch {
	case past.Passed:
		return fail(statusWrong,
			fmt.Errorf("unit %s passed already, as revision %q%s", j.serial, past.PassedAs, onSimulated(simulated)),
			"the next unit; what is known of this one: "+look)
	case past.Judged >= j.product.Attempts:
		return fail(statusWrong, fmt.Errorf("unit %s failed %s, and %s allows no more%s",
			j.serial, times(past.Judged), j.product.Code, onSimulated(simulated)),
			"put it aside for repair; what is known of it: "+look)
	}
	return nil
}

func onSimulated(simulated bool) string {
	if simulated {
		return " (on a simulated jig)"
	}
	return ""
}

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

// perform plans and runs the test. An error means that nothing moved; what
// stops a run later is in the run.
func (j *job) perform(ctx context.Context, jig *fixture.Jig, history results.History) (sequence.Run, error) {
	caps := jig.Capabilities()
	if caps.Simulated {
		if err := j.allowed(history, true); err != nil {
			return sequence.Run{}, err
		}
	}
	if err := j.fit(ctx, caps, time.Now()); err != nil {
		return sequence.Run{}, err
	}
	zeros, err := j.calibrated(ctx, caps, time.Now())
	if err != nil {
		return sequence.Run{}, err
	}
	jig.SetZero(zeros)
	how := j.how
	if how == "" {
		how = sequence.DefaultActuation(j.product, caps)
	}
	plan, err := sequence.NewPlan(j.product, caps, how)
	if err != nil {
		return sequence.Run{}, fail(statusWrong,
			fmt.Errorf("plan %s on jig %s: %w", j.product.Code, caps.Serial, err), planRemedy(err))
	}
	// A reseat or an interruption says nothing of the unit and takes no attempt.
	past := history.Of(j.product.Code, caps.Simulated)
	unit := sequence.Unit{Serial: j.serial, Operator: j.operator, Attempt: past.Judged + 1, Started: time.Now()}
	return j.watched(ctx, jig, plan, unit), nil
}

func planRemedy(err error) string {
	if _, listed := errors.AsType[sequence.Problems](err); listed {
		return "another jig or another way to --press; each problem says what would help"
	}
	return "padjig product show, to see what the product asks for"
}

// watched runs the plan while the watcher follows.
func (j *job) watched(ctx context.Context, jig sequence.Jig, plan *sequence.Plan, unit sequence.Unit) sequence.Run {
	j.watcher.begin(plan, unit, j.product.Attempts)
	news, over := make(chan sequence.Progress, 1024), make(chan struct{})
	go func() {
		defer close(over)
		for p := range news {
			j.watcher.step(p)
		}
	}()
	run, err := plan.Run(ctx, jig, unit, news)
	close(news)
	<-over
	j.cause = err
	if err != nil && ctx.Err() != nil {
		run.Reason = "interrupted by somebody at this computer"
	}
	j.watcher.end(run)
	return run
}

// record stores the run and gives back what is stored: what is shown is that.
func (j *job) record(ctx context.Context, run sequence.Run) (results.Stored, error) {
	p, untested := j.product, "treat the unit as untested, and test it again when the records are in order: "+
		"padjig records check"+storeArgument(j.store)
	revision := results.Revision{
		Code: p.Code, Title: p.Title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical(),
	}
	id, err := j.store.Save(ctx, revision, run)
	if err != nil {
		return results.Stored{}, fail(statusNotRecorded, err, untested)
	}
	stored, err := j.store.Run(context.WithoutCancel(ctx), id)
	if err != nil {
		return results.Stored{}, fail(statusNotRecorded, err, untested)
	}
	return stored, nil
}
