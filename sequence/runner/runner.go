package runner

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/judge"
	"padjig/sequence/prove"
)

// Run carries out the plan on a unit. The record is complete whatever happens;
// err says what stopped the run when the outcome is Aborted. The jig is inert
// when Run returns, whatever the way out. That it says so comes behind all other
// replies: had one of them not been its own, there would have been two of them by
// then, and the run would end in that error.
//
// Progress is sent to watch, which may be nil; when it is full, progress is
// lost, never time.
func (plan *Plan) Run(ctx context.Context, jig sequence.Jig, unit sequence.Unit, watch chan<- sequence.Progress) (sequence.Run, error) {
	r := newRunner(plan, line{ctx, jig, new(fixture.Own)}, watch)
	r.blank(unit)
	began := time.Now()
	err := r.steps()
	if stop, early := errors.AsType[ended](err); early {
		err = nil
		r.end(stop.outcome, stop.why)
	}
	if inert := sequence.MakeInert(ctx, jig); err == nil && inert != nil {
		err = fmt.Errorf("make the jig inert at the end: %w", inert)
	}
	r.run.Duration = sequence.Seconds(time.Since(began))
	r.conclude(err)
	return r.run, err
}

// runner is one run in progress: the loop over the steps, and the record.
type runner struct {
	plan  *Plan
	line  line
	watch watcher
	run   sequence.Run

	sheet    *judge.Sheet
	rest     atRest
	pressing pressing
	exercise *exercise
}

func newRunner(plan *Plan, l line, watch watcher) *runner {
	set, sheet := plan.set, judge.NewSheet(plan.Product)
	rest := judge.NewRest(set, sheet)
	keys := judge.NewKeys(set, sheet, rest)
	wiring := judge.NewWiring(set, sheet, rest, keys)
	ask := routines{set: set, calm: new(calm)}
	own := &itself{memory: cmp.Or(plan.Memory, new(Memory))}
	find := finder{routines: ask, line: l, known: rest.Known, told: sheet.Knows}
	return &runner{
		plan: plan, line: l, watch: watch, sheet: sheet,
		rest:     atRest{find, rest, own},
		pressing: pressing{find, watch, sheet, rest, keys, wiring},
		exercise: &exercise{
			holding: holding{ask, l}, watch: watch, sheet: sheet, rest: rest,
			judge: judge.NewPresses(set, sheet), do: plan.exercise,
		},
	}
}

// blank begins the record.
func (r *runner) blank(unit sequence.Unit) {
	p, plan := r.plan.Product, r.plan
	r.run = sequence.Run{
		Serial: unit.Serial, Product: p.Code, Revision: p.Revision, Hash: p.Hash(),
		Jig: plan.JigName(), Simulated: plan.Jig.Simulated, Actuation: plan.Actuation,
		Purpose: plan.Purpose, Case: unit.Case, Operator: unit.Operator, Attempt: unit.Attempt, Started: unit.Started.UTC(),
	}
	for _, s := range plan.Steps {
		r.run.Steps = append(r.run.Steps, sequence.StepDone{Name: s.Name})
	}
}

// exchanges are those of a step that can be queued in a row with those of other steps.
func (r *runner) exchanges(step sequence.Step) []exchange {
	switch step.Name {
	case stepSelfTest:
		return r.rest.selfTest(r.sheet.Shown)
	case stepSeating:
		return r.rest.seating(r.sheet.Shown, func(seats []sequence.Seat) { r.run.Seats = seats })
	case stepRest, judge.RestAgain:
		return r.rest.exchanges(step.Name)
	case stepRectangles:
		return r.pressing.rectangles(step)
	}
	return r.pressing.exchanges(step)
}

// work is what a step does that runs by itself, nil for one made of exchanges.
func (r *runner) work(step sequence.Step) func() error {
	switch step.Name {
	case stepByHand, stepFirstByHand:
		return func() error { return r.byHand(step) }
	case stepPresses:
		return func() error { return r.exercise.presses(step) }
	case stepHeld:
		return func() error { return r.exercise.hold(step) }
	case stepTail:
		return func() error { return r.exercise.flex(step) }
	}
	return nil
}

func (r *runner) byHand(step sequence.Step) error {
	if len(r.sheet.Findings) > 0 {
		return nil // connected at rest: no press could be recognised for sure
	}
	h := handwork{finder: r.rest.finder, watch: r.watch, sheet: r.sheet, keys: r.pressing.keys, step: step,
		pending: map[int]bool{}, unseen: map[int]int{}, proves: r.plan.Shows}
	return h.work()
}

// steps carries out the plan. Steps made of exchanges are queued in a row, the
// next one's behind the last one's; a step that waits for a person runs by itself.
func (r *runner) steps() error {
	for i := 0; i < len(r.plan.Steps); {
		next, err := r.stretch(i)
		if rec, is := errors.AsType[recovery](err); is {
			err = r.recoverStep(next-1, rec)
		}
		if err != nil {
			return fmt.Errorf("step %q: %w", r.plan.Steps[min(next, len(r.plan.Steps))-1].Name, err)
		}
		i = next
	}
	switch r.plan.Purpose {
	case sequence.FirstPress:
		r.pressing.wiring.Gently()
		return nil
	case sequence.Exercise:
		return nil
	}
	return r.pressing.again(r.rest)
}

// stretch carries out steps from the given one on, as far as they can be
// queued in a row, and returns the step after the last one begun.
func (r *runner) stretch(from int) (next int, err error) {
	if work := r.work(r.plan.Steps[from]); work != nil {
		return from + 1, r.timed(from, work)
	}
	var s stretch
	last := r.lastOf(from)
	for i := from; i <= last; i++ {
		s.add(i, r.exchanges(r.plan.Steps[i]))
	}
	if last == len(r.plan.Steps)-1 {
		s.letGo()
	}
	current, began := from-1, time.Now()
	enter := func(step int) {
		for current < step {
			if current >= from {
				r.finish(current, time.Since(began))
			}
			current, began = current+1, time.Now()
			r.watch.say(sequence.Progress{Step: r.plan.Steps[current], Total: len(r.plan.Steps[current].Keys)})
		}
	}
	enter(from)
	if err := s.perform(r.line, enter); err != nil {
		return current + 1, err
	}
	enter(last)
	r.finish(last, time.Since(began))
	return last + 1, nil
}

// lastOf is the last step of the stretch that begins with the given one. At a first
// press nothing is begun behind the reading at rest before that is judged: a key that
// is begun meanwhile would be pressed again.
func (r *runner) lastOf(from int) int {
	last := from
	for last+1 < len(r.plan.Steps) && r.work(r.plan.Steps[last+1]) == nil &&
		(r.plan.Purpose != sequence.FirstPress || r.plan.Steps[last].Name != stepRest) {
		last++
	}
	return last
}

// recoverStep takes a recovery and counts the step as done. The jig may have begun
// the next key meanwhile: it is let up first.
func (r *runner) recoverStep(step int, rec recovery) error {
	if err := r.line.riseAgain(r.rest.routines); err != nil {
		rec.lost()
		return err
	}
	return r.timed(step, rec.complete)
}

func (r *runner) timed(step int, do func() error) error {
	began := time.Now()
	err := do()
	if errors.Is(err, errLeftOut) {
		return nil
	}
	if err == nil {
		r.finish(step, time.Since(began))
	}
	return err
}

func (r *runner) finish(step int, took time.Duration) {
	r.run.Steps[step].Done = true
	r.run.Steps[step].Took += sequence.Seconds(took)
}

// conclude completes the record: the outcome by what was found, and words last.
func (r *runner) conclude(err error) {
	r.exercise.judge.Judge()
	r.account()
	switch {
	case err != nil:
		r.end(sequence.Aborted, whyAborted(err))
		r.run.Reason = err.Error()
		r.pressing.wiring.Aborted()
	case r.run.Outcome != "":
	case r.maybeSeat():
		r.end(sequence.Reseat, sequence.Fact(sequence.SeatUnproven))
	case len(r.sheet.Findings) > 0:
		r.run.Outcome = sequence.Fail
	case !prove.Passes(r.plan.Required, r.sheet.Shown, len(r.sheet.Findings), r.stepsLeft()):
		r.end(sequence.Incomplete, r.missing())
	case r.plan.Actuation == sequence.Electrical:
		r.end(sequence.HarnessGood, sequence.Fact(sequence.HarnessProved, prove.Listed(r.run.Proofs.Proved), prove.Listed(r.run.Proofs.Missing)))
	case r.plan.Purpose == sequence.Engineering:
		r.end(sequence.NothingFound, sequence.Fact(sequence.OnTrial))
	default:
		r.run.Outcome = sequence.Pass
	}
	r.run.Keys, r.run.Pairs, r.run.Findings = r.sheet.Keys, r.sheet.Pairs, r.sheet.Findings
	r.run.Insulation = r.sheet.Insulation
	r.run.Exercised = r.exercise.judge.All
	sequence.SortFindings(r.run.Findings)
	r.plan.sentences.Spell(&r.run)
}

// end sets an outcome and why it is that.
func (r *runner) end(outcome sequence.Outcome, why sequence.Said) {
	r.run.Outcome, r.run.Why = outcome, why
}

// missing says what a run lacks that came to its end.
func (r *runner) missing() sequence.Said {
	labels := func(keys []int) string { return strings.Join(r.sheet.Labels(keys), ", ") }
	switch doubtful := r.pressing.keys.Doubtful(); {
	case r.plan.Purpose == sequence.FirstPress && len(doubtful) > 0:
		return sequence.Fact(sequence.WithinGuard, labels(doubtful))
	case r.plan.Purpose == sequence.Exercise && len(r.plan.exercise.Keys) < len(r.plan.Product.Keys):
		return sequence.Fact(sequence.SomeExercised, labels(r.plan.exercise.Keys))
	case len(r.run.Proofs.Missing) > 0:
		return sequence.Fact(sequence.NotProved, prove.Listed(r.run.Proofs.Missing))
	}
	return sequence.Fact(sequence.StepLeft)
}

// account draws up what was proved, by what was read and found good. What an electrical
// press lacks for a pass is said as well, though it is not held to it.
func (r *runner) account() {
	required := r.plan.Required
	if r.plan.Actuation == sequence.Electrical {
		required = judge.Required(r.plan.Product)
	}
	r.run.Proofs = prove.AccountOf(r.plan.called, required, r.sheet.Shown,
		func(proof prove.Proof, of int) string { return judge.SubjectOf(r.plan.Product, proof, of) })
}

// maybeSeat reports whether all that is wrong could be the jig's contact: lines
// that read open on a jig that cannot prove its seating, at the first attempt.
// Put in again, they are the unit's.
func (r *runner) maybeSeat() bool {
	if r.plan.Jig.Loop || r.run.Attempt > 1 || len(r.sheet.Findings) == 0 {
		return false
	}
	for _, f := range r.sheet.Findings {
		if f.What != "line open" {
			return false
		}
	}
	return true
}

// stepsLeft counts the steps of the plan that were not done.
func (r *runner) stepsLeft() (left int) {
	for _, s := range r.run.Steps {
		if !s.Done {
			left++
		}
	}
	return left
}

// whyAborted is what stopped a run.
func whyAborted(err error) sequence.Said {
	if jig, is := errors.AsType[*judge.Misread](err); is {
		return jig.Why
	}
	switch {
	case errors.Is(err, fixture.ErrInterlock):
		return sequence.Fact(sequence.LidOpened)
	case errors.Is(err, fixture.ErrEmergency):
		return sequence.Fact(sequence.Emergency)
	case errors.Is(err, context.Canceled):
		return sequence.Fact(sequence.Interrupted)
	}
	return sequence.Fact(sequence.JigFailed, err.Error())
}
