package sequence

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"padjig/fixture"
)

// Jig is what a run needs of a jig; *fixture.Jig is one.
type Jig interface {
	// Perform has the routines performed in order, queued ahead, and calls
	// each with the results in the same order; an error of each ends it, and
	// routines queued behind may then still run until Inert is called.
	Perform(ctx context.Context, routines []*fixture.Routine, each func(i int, d fixture.Done) error) error
	// Inert makes the jig let go of everything and forget what is queued. It
	// may be called at any time, and the jig can be used again afterwards.
	Inert(ctx context.Context) error
}

// Unit is the unit to be tested, and on whose behalf.
type Unit struct {
	Serial   string
	Operator string
	Case     string    // id of the returns case, empty for production
	Attempt  int       // 1 for the first
	Started  time.Time // wall clock, for the record only
}

// Progress is one thing an observer may show.
type Progress struct {
	Step   Step
	Done   int           // keys done of this step
	Total  int           // keys of this step
	Key    *KeyResult    // just finished, nil otherwise
	Press  int           // of many presses of one key: how many are done
	Left   time.Duration // about how long an exercise still takes; 0 where nothing is known of it yet
	Prompt string        // something a person should do or know
	Ask    Ask           // the same, for those who say it otherwise
}

// Ask is what a person who presses the keys is asked, or told.
type Ask struct {
	Code AskCode
	Keys []string // labels of the keys it is about, or the names of lines
}

// AskCode names the sentence of an Ask.
type AskCode string

// The codes.
const (
	AskEachKey  AskCode = "each key"  // press each key once, in any order
	AskLetGo    AskCode = "let go"    // this key was read
	AskAgain    AskCode = "again"     // this key was let go too soon
	AskOne      AskCode = "one"       // these keys were pressed together
	AskEnough   AskCode = "enough"    // this key was pressed already
	AskNowhere  AskCode = "nowhere"   // these lines closed, where no key is
	AskNext     AskCode = "next"      // nothing is held: press the next key, this one or any that is left
	AskHandsOff AskCode = "hands off" // every key was pressed: hands off
)

// inertWithin is how long making the jig inert may take when a run ends; a jig
// that does not answer is inert by itself after a second of silence.
const inertWithin = 2 * time.Second

// Run carries out the plan on a unit. The record is complete whatever happens;
// err says what stopped the run when the outcome is Aborted. The jig is inert
// when Run returns, whatever the way out. That it says so comes behind all other
// replies: had one of them not been its own, there would have been two of them by
// then, and the run would end in that error.
//
// Progress is sent to watch, which may be nil; when it is full, progress is
// lost, never time.
func (plan *Plan) Run(ctx context.Context, jig Jig, unit Unit, watch chan<- Progress) (Run, error) {
	r := &runner{ctx: ctx, plan: plan, jig: jig, watch: watch, run: plan.blank(unit), known: newNets(len(plan.Product.Lines))}
	r.opened = make([]bool, len(plan.Product.Keys))
	began := time.Now()
	err := r.steps()
	if inert := makeInert(ctx, jig); err == nil && inert != nil {
		err = fmt.Errorf("make the jig inert at the end: %w", inert)
	}
	r.run.Duration = time.Since(began)
	r.judgeExercise()
	r.conclude(err)
	return r.run, err
}

// JigName is the jig that the plan was made for, as the record names it.
func (plan *Plan) JigName() JigName {
	return JigName{plan.Jig.Serial, plan.Jig.Model, plan.Jig.Firmware, plan.Jig.Adapter}
}

func makeInert(ctx context.Context, jig Jig) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), inertWithin)
	defer cancel()
	return jig.Inert(ctx)
}

func (plan *Plan) blank(unit Unit) Run {
	p := plan.Product
	run := Run{
		Serial: unit.Serial, Product: p.Code, Revision: p.Revision, Hash: p.Hash(),
		Jig:       plan.JigName(),
		Simulated: plan.Jig.Simulated, Actuation: plan.Actuation,
		Purpose: plan.Purpose, Case: unit.Case, Operator: unit.Operator, Attempt: unit.Attempt, Started: unit.Started.UTC(),
	}
	for _, s := range plan.Steps {
		run.Steps = append(run.Steps, StepDone{Name: s.Name})
	}
	for _, k := range p.Keys {
		run.Keys = append(run.Keys, KeyResult{
			Key: k.Label, Lines: [2]string{p.Lines[k.A].Name, p.Lines[k.B].Name}, Verdict: KeyUntested,
		})
	}
	return run
}

// runner is one run in progress.
type runner struct {
	ctx   context.Context // of the run; kept here because every exchange waits on the jig
	plan  *Plan
	jig   Jig
	watch chan<- Progress
	run   Run

	known     *nets        // lines found connected at rest
	opened    []bool       // keys that did not close
	bridges   []elsewhere  // what was found connected at rest
	elsewhere []elsewhere  // what closed instead, or besides
	strays    []stray      // keys during whose press other lines touched
	located   map[int]bool // those of them of which it is known what touched
	doubtful  []int        // keys whose value fell into the guard band
	late      []int        // keys that were slow to open
	over      bool         // an exercise that has found what it was to stop at
}

// say hands progress to the observer, or drops it.
func (r *runner) say(p Progress) {
	select {
	case r.watch <- p:
	default:
	}
}

// sayKey hands on a copy of a key's result as it stands.
func (r *runner) sayKey(step Step, done, total, k int) {
	result := r.run.Keys[k]
	r.say(Progress{Step: step, Done: done, Total: total, Key: &result})
}

func (r *runner) perform(routines []*fixture.Routine, each func(int, fixture.Done) error) error {
	return r.jig.Perform(r.ctx, routines, each)
}

// one performs a single routine.
func (r *runner) one(routine *fixture.Routine) (done fixture.Done, err error) {
	err = r.perform([]*fixture.Routine{routine}, func(_ int, d fixture.Done) error {
		done = d
		return nil
	})
	return done, err
}

// conclude sets the outcome from what was found.
func (r *runner) conclude(err error) {
	switch {
	case err != nil:
		r.run.Outcome, r.run.Why, r.run.Reason = Aborted, whyAborted(err), err.Error()
		r.keepSeen()
	case r.run.Outcome != "":
	case r.maybeSeat():
		r.end(Reseat, said(SeatUnproven))
	case len(r.run.Findings) > 0:
		r.run.Outcome = Fail
	case !r.complete():
		r.end(Incomplete, r.missing())
	case r.plan.Actuation == Electrical:
		r.end(HarnessGood, said(NoKeyPressed))
	default:
		r.run.Outcome = Pass
	}
	sortFindings(r.run.Findings)
}

// missing says what a run lacks that came to its end.
func (r *runner) missing() Said {
	switch {
	case r.plan.Purpose == FirstPress && len(r.doubtful) > 0:
		return said(WithinGuard, r.labels(r.doubtful))
	case r.plan.Purpose == Exercise && len(r.plan.exercise.Keys) < len(r.plan.Product.Keys):
		return said(SomeExercised, r.labels(r.plan.exercise.Keys))
	}
	return said(StepLeft)
}

func (r *runner) labels(keys []int) string {
	var labels []string
	for _, k := range keys {
		labels = append(labels, r.plan.Product.Keys[k].Label)
	}
	return strings.Join(labels, ", ")
}

// maybeSeat reports whether all that is wrong could be the jig's contact: lines
// that read open on a jig that cannot prove its seating, at the first attempt.
// Put in again, they are the unit's.
func (r *runner) maybeSeat() bool {
	if r.plan.Jig.Loop || r.run.Attempt > 1 || len(r.run.Findings) == 0 {
		return false
	}
	for _, f := range r.run.Findings {
		if f.What != "line open" {
			return false
		}
	}
	return true
}

// complete reports whether every step was done and every key was judged good:
// what a pass needs. An electrical press judges no key; there each must have
// been joined.
func (r *runner) complete() bool {
	for _, s := range r.run.Steps {
		if !s.Done {
			return false
		}
	}
	for _, k := range r.run.Keys {
		if r.plan.Actuation == Electrical && k.Closed != nil {
			continue
		}
		if k.Verdict != KeyPass {
			return false
		}
	}
	return true
}

// stop ends the run with an outcome that is neither pass nor fail.
func (r *runner) stop(outcome Outcome, why Code, args ...string) error {
	r.end(outcome, said(why, args...))
	return errStop
}

// end sets an outcome and why it is that.
func (r *runner) end(outcome Outcome, why Said) {
	r.run.Outcome, r.run.Why, r.run.Reason = outcome, why, plainly(why)
}

// whyAborted is what stopped a run.
func whyAborted(err error) Said {
	var jig *Misread
	switch {
	case errors.As(err, &jig):
		return jig.why
	case errors.Is(err, fixture.ErrInterlock):
		return said(LidOpened)
	case errors.Is(err, fixture.ErrEmergency):
		return said(Emergency)
	case errors.Is(err, context.Canceled):
		return said(Interrupted)
	}
	return said(JigFailed, err.Error())
}

// Interrupt says of a run that was aborted that somebody did it, whatever it was
// that stopped at that.
func (run *Run) Interrupt() {
	run.Why = said(Interrupted)
	run.Reason = plainly(run.Why)
}
