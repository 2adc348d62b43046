// Package commissioning has a jig commissioned: step by step, with a person at it, each step
// stored as it ends.
//
// What a person has to do at the jig is not asked of a keyboard where the jig can see it: an
// opened guard, a pressed emergency stop, another thing in the nest are waited for until the jig
// says so. So nobody can answer for a hand.
package commissioning

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/cmd/padjig/station/calibration"
	"padjig/fixture"
	"padjig/results"
	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/commission"
	"padjig/sequence/judge"
	"padjig/sequence/product"
	"padjig/sequence/refbox"
)

// Order is a commissioning to be begun or gone on with.
type Order struct {
	Operator string
	Box      *refbox.Box      // nil: no verification
	Product  *product.Product // of the keypad for what needs one; nil: none of that
	Only     commission.Step  // empty: all that were not passed yet
	Anew     bool             // nothing that was passed before counts
}

// Ask is what a person is to do; its words are the text "commission.ask.CODE".
type Ask = sequence.Said

// Hooks are what differs between those who have a jig commissioned.
type Hooks struct {
	Begun func(care.Commissioning)
	Step  func(commission.Step)                    // is begun
	Tell  func(Ask)                                // to be done at the jig, which sees it
	Agree func(context.Context, Ask) (bool, error) // a person says yes; never a pipe
	Read  func(done, of int)
	Ended func(care.CommissionStep)
}

// NotKeptError says that a step ended and is not in the records.
type NotKeptError struct{ error }

// Unwrap is what kept it from being stored.
func (e *NotKeptError) Unwrap() error { return e.error }

const (
	// patience is how long a person may take for what is asked.
	patience = 10 * time.Minute
	// lookEvery is how often the jig is asked meanwhile whether it sees it.
	lookEvery = 100 * time.Millisecond
	// railDead is when the actuators' supply has to be dead after it was taken away: 100 ms by the
	// protocol, and as much again for a hand that is still moving.
	railDead = 200 * time.Millisecond
)

// Take goes on with the commissioning of an open jig, or begins one: for a jig that has none, or
// whose last one was of another board or firmware, or was finished. Whatever ends it, the steps
// that ended before are stored.
func Take(ctx context.Context, store *results.Store, jig *fixture.Jig, o Order, hooks Hooks) (care.Commissioning, error) {
	t := &taking{store: store, jig: jig, caps: jig.Capabilities(), order: o, hooks: hooks}
	if err := t.begin(ctx); err != nil {
		return t.now, &NotKeptError{err}
	}
	hooks.Begun(t.now)
	// Whoever begins has looked at the nest. What is open or pressed the steps wait for.
	err := jig.Unbar(ctx)
	for _, said := range []error{fixture.ErrEmergency, fixture.ErrInterlock} {
		if errors.Is(err, said) {
			err = nil
		}
	}
	if err != nil {
		return t.now, err
	}
	for _, step := range commission.Steps() {
		if !step.Applies(t.caps) || o.Only != "" && o.Only != step || o.Only == "" && t.now.Progress()[step] == commission.Pass {
			continue
		}
		hooks.Step(step)
		result, err := t.carryOut(ctx, step)
		if err != nil {
			return t.now, fmt.Errorf("step %s: %w", step, errors.Join(err, ctx.Err()))
		}
		kept, err := store.Care.AddCommissionStep(ctx, t.now, result, o.Operator)
		if err != nil {
			return t.now, &NotKeptError{err}
		}
		t.now.Steps = append(t.now.Steps, kept)
		hooks.Ended(kept)
	}
	return t.now, nil
}

// taking is one under way.
type taking struct {
	store *results.Store
	jig   *fixture.Jig
	caps  fixture.Capabilities
	order Order
	hooks Hooks
	now   care.Commissioning
	nest  commission.Nest // what lies in it, as far as that is known
}

// begin finds the one to go on with, or begins one.
func (t *taking) begin(ctx context.Context) error {
	list, err := t.store.Care.Commissionings(ctx, t.caps.Serial, t.caps.Simulated)
	if err != nil {
		return err
	}
	if n := len(list); n > 0 && !t.order.Anew {
		last := list[n-1]
		unfinished := len(last.Progress().Missing(t.caps)) > 0
		if last.Of(t.caps) && (unfinished || t.order.Only != "") {
			t.now = last
			return nil
		}
	}
	t.now, err = t.store.Care.BeginCommissioning(ctx, t.caps, t.order.Operator)
	return err
}

// carryOut carries a step out, if it can be. An error ends the whole and says nothing of the jig.
func (t *taking) carryOut(ctx context.Context, step commission.Step) (commission.Result, error) {
	if lacks := t.now.Progress().Lacks(step, t.caps); len(lacks) > 0 {
		return commission.Skipped(step, "lacks", string(lacks[0])), nil
	}
	switch {
	case step == commission.Verify && t.order.Box == nil:
		return commission.Skipped(step, "no box"), nil
	case step.Nest() == commission.Keypad && t.order.Product == nil:
		return commission.Skipped(step, "no product"), nil
	case step.Nest() == commission.Keypad && len(t.channels()) < 2:
		return commission.Skipped(step, "does not fit", t.order.Product.Code), nil
	}
	if why, err := t.lay(ctx, step.Nest()); err != nil || why.Code != "" {
		return commission.Skipped(step, why.Code, why.Args...), err
	}
	if step != commission.Guard && step != commission.Emergency { // which a barred jig sees too
		if yes, err := t.free(ctx); err != nil || !yes {
			return commission.Skipped(step, "nobody"), err
		}
	}
	if step.Moves() {
		yes, err := t.hooks.Agree(ctx, sequence.Fact("moves"))
		if err != nil || !yes {
			return commission.Skipped(step, "nobody"), err
		}
	}
	reader := &commission.Reader{Jig: t.jig, Caps: t.caps, Tell: t.hooks.Read}
	switch step {
	case commission.Guard, commission.Emergency:
		return t.stops(ctx, step)
	case commission.Zero, commission.Verify:
		return t.calibrated(ctx, step)
	case commission.SelfTest:
		return reader.SelfTest(ctx)
	}
	// What it reads of itself now its readings are corrected by; a jig that has changed since its
	// self-test is not measured with.
	if self, err := reader.SelfTest(ctx); err != nil || step != commission.Pad && step != commission.Travel && self.Outcome != commission.Pass {
		return commission.Skipped(step, "misreads"), err
	}
	switch step {
	case commission.Leakage:
		return reader.Leakage(ctx)
	case commission.Mains:
		return reader.Mains(ctx)
	case commission.Capacitance:
		all := make([]int, t.caps.Channels)
		for c := range all {
			all[c] = c
		}
		return reader.Lines(ctx, step, all)
	case commission.Pad:
		return reader.Lines(ctx, step, t.channels())
	}
	return reader.Strokes(ctx, t.order.Product)
}

// free lifts what bars the jig when a person says so: an emergency stop that was released, or a
// lid that was closed, frees nothing by itself.
func (t *taking) free(ctx context.Context) (bool, error) {
	if !errors.Is(t.jig.Ready(ctx), fixture.ErrBarred) {
		return true, nil
	}
	yes, err := t.hooks.Agree(ctx, sequence.Fact("unbar"))
	if err == nil && yes {
		err = t.jig.Unbar(ctx)
	}
	return yes, err
}

// channels are those under the lines of the keypad; none where it does not fit the jig.
func (t *taking) channels() (all []int) {
	for _, l := range t.order.Product.Lines {
		switch {
		case l.Pin > t.caps.Channels:
			return nil
		case l.Pin > 0:
			all = append(all, l.Pin-1)
		}
	}
	return all
}

// seen is what the jig said when it was asked.
type seen struct {
	open, pressed, powered bool
	openings               uint32
}

// still reports whether nothing stops motion.
func (s seen) still() bool { return !s.open && !s.pressed }

// look asks the jig.
func (t *taking) look(ctx context.Context) (seen, error) {
	err := t.jig.Ready(ctx)
	s := seen{pressed: errors.Is(err, fixture.ErrEmergency)}
	// What bars motion or has failed about the rail is for the next routine to say.
	for _, said := range []error{fixture.ErrEmergency, fixture.ErrInterlock, fixture.ErrBarred, fixture.ErrRail} {
		if errors.Is(err, said) {
			err = nil
		}
	}
	nest := t.jig.Nest()
	s.open, s.powered, s.openings = nest.Open, nest.Powered, nest.Openings
	return s, err
}

// errNobody ends a step for which nobody did what was asked.
var errNobody = errors.New("nobody did what was asked")

// await asks a person for something and waits until the jig sees it.
func (t *taking) await(ctx context.Context, ask Ask, done func(seen) bool) (seen, error) {
	told, tick := false, time.NewTicker(lookEvery)
	defer tick.Stop()
	for until := time.Now().Add(patience); ; {
		s, err := t.look(ctx)
		switch {
		case err != nil || done(s):
			return s, err
		case !told:
			t.hooks.Tell(ask)
			told = true
		case time.Now().After(until):
			return s, errNobody
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return s, ctx.Err()
		}
	}
}

// lay has something laid into the nest, or taken out. Why is why it was not; no code: it was.
func (t *taking) lay(ctx context.Context, what commission.Nest) (why sequence.Said, err error) {
	if what == commission.Whatever || what == t.nest {
		return why, nil
	}
	ask := sequence.Fact("nest", string(what))
	if what == commission.Box {
		ask.Args = append(ask.Args, t.order.Box.String())
	} else if what == commission.Keypad {
		ask.Args = append(ask.Args, t.order.Product.Code)
	}
	t.nest = commission.Whatever
	if t.caps.Interlock {
		before, err := t.look(ctx)
		if err == nil {
			_, err = t.await(ctx, ask, func(s seen) bool { return s.openings != before.openings && s.still() })
		}
		if errors.Is(err, errNobody) {
			return sequence.Fact("nobody"), nil
		} else if err != nil {
			return why, err
		}
	} else if yes, err := t.hooks.Agree(ctx, ask); err != nil || !yes {
		return sequence.Fact("nobody"), err
	}
	if yes, err := t.free(ctx); err != nil || !yes {
		return sequence.Fact("nobody"), err
	}
	if why, err = t.lies(ctx, what); err == nil && why.Code == "" {
		t.nest = what
	}
	return why, err
}

// lies looks whether the nest is empty that has to be, or the keypad lies in it, where the jig has
// second probes that show it.
func (t *taking) lies(ctx context.Context, what commission.Nest) (why sequence.Said, err error) {
	if what != commission.Empty && what != commission.Keypad {
		return why, nil // a zero and a verification know what they need
	}
	reader := &commission.Reader{Jig: t.jig, Caps: t.caps}
	loops, err := reader.Loops(ctx)
	if err != nil || len(loops) == 0 {
		return why, err
	}
	if laden := commission.Laden(t.caps, loops); what == commission.Empty && len(laden) > 0 {
		return sequence.Fact("not empty", strings.Join(laden, ", ")), nil
	}
	if what == commission.Keypad {
		open := slices.DeleteFunc(t.channels(), func(c int) bool { return judge.Seated(t.caps, loops[c]) })
		if len(open) > 0 {
			return sequence.Fact("not seated", strings.Trim(fmt.Sprint(numbers(open)), "[]")), nil
		}
	}
	return why, nil
}

// numbers are channels as people count them.
func numbers(channels []int) []int {
	for i := range channels {
		channels[i]++
	}
	return channels
}

// stops has guard or emergency stop tried, and looks what the jig makes of it.
func (t *taking) stops(ctx context.Context, step commission.Step) (commission.Result, error) {
	begin, end := sequence.Fact("open"), sequence.Fact("close")
	is := func(s seen) bool { return s.open }
	if step == commission.Emergency {
		begin, end = sequence.Fact("press"), sequence.Fact("release")
		is = func(s seen) bool { return s.pressed }
	}
	before, err := t.await(ctx, sequence.Fact("still"), seen.still)
	if err == nil {
		_, err = t.await(ctx, begin, is)
	}
	if errors.Is(err, errNobody) { // or the jig did not see what was done: that is the fault looked for
		return commission.Stops(step, t.caps, commission.Stopped{}), nil
	} else if err != nil {
		return commission.Result{}, err
	}
	out := commission.Stopped{Seen: true}
	refused := t.nothing(ctx)
	out.Refused = errors.Is(refused, fixture.ErrInterlock) || errors.Is(refused, fixture.ErrEmergency)
	if refused != nil && !out.Refused {
		return commission.Result{}, refused
	}
	if t.caps.Rail {
		if err := pause(ctx, railDead); err != nil {
			return commission.Result{}, err
		}
		s, err := t.look(ctx)
		if err != nil {
			return commission.Result{}, err
		}
		out.Dead = !s.powered && is(s)
	}
	after, err := t.await(ctx, end, seen.still)
	switch {
	case errors.Is(err, errNobody):
		return commission.Stops(step, t.caps, out), nil
	case err != nil:
		return commission.Result{}, err
	}
	again := t.nothing(ctx)
	out.Counted = int(after.openings - before.openings)
	out.Freed = again == nil || errors.Is(again, fixture.ErrBarred) // then it waits for a person, as it should
	return commission.Stops(step, t.caps, out), t.jig.Err()
}

// nothing has the jig perform a routine that does nothing: it is refused whenever motion is.
func (t *taking) nothing(ctx context.Context) error {
	r := fixture.NewRoutine(t.caps)
	r.Wait(time.Millisecond)
	return t.jig.Perform(ctx, []*fixture.Routine{r}, func(int, fixture.Done) error { return nil })
}

func pause(ctx context.Context, d time.Duration) error {
	select {
	case <-time.After(d):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// calibrated takes a zero or a verification as the commands of their own do; it is stored as such
// too.
func (t *taking) calibrated(ctx context.Context, step commission.Step) (commission.Result, error) {
	o := calibration.Order{Kind: sequence.KindZero, Operator: t.order.Operator, Interval: sequence.ZeroInterval}
	if step == commission.Verify {
		o = calibration.Order{Kind: sequence.KindVerify, Operator: t.order.Operator, Interval: sequence.VerifyInterval, Box: t.order.Box}
	}
	c, err := calibration.Take(ctx, t.store, t.jig, o, calibration.Hooks{Tell: t.hooks.Read})
	if err == nil {
		return commission.Calibrated(step, c), nil
	}
	t.nest = commission.Whatever // it may be something else than was asked for
	if kept, is := errors.AsType[*calibration.NotKeptError](err); is {
		return commission.Result{}, &NotKeptError{kept.Unwrap()}
	}
	if _, is := errors.AsType[*calibration.ZeroFirstError](err); is {
		return commission.Skipped(step, "lacks", string(commission.Zero)), nil
	}
	if remedy := calibrate.RemedyOf(err); remedy != "" {
		return commission.Skipped(step, "calibration refused", err.Error(), remedy), nil
	}
	return commission.Result{}, err
}
