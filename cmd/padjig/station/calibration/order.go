// Package calibration is how a jig is zeroed and verified, once for terminal and pages, and
// who has it done on a lane's jig.
package calibration

import (
	"context"
	"fmt"
	"time"

	"padjig/fixture"
	"padjig/results"
	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/refbox"
)

// Order is a zero or a verification to be taken.
type Order struct {
	Kind     sequence.CalibrationKind
	Box      *refbox.Box // of a verification
	Operator string
	Interval time.Duration
}

// ZeroFirstError says that a jig cannot be verified before it has a zero that holds.
type ZeroFirstError struct {
	Jig  string
	Zero care.Due
	Said string // how the zero stands, in words
}

func (e *ZeroFirstError) Error() string {
	return fmt.Sprintf("jig %s %s; nothing was measured", e.Jig, e.Said)
}

// NotKeptError says that a calibration was taken and is not in the records.
type NotKeptError struct{ error }

// Unwrap is what kept it from being stored.
func (e *NotKeptError) Unwrap() error { return e.error }

// Hooks are what differs between those who have a jig calibrated.
type Hooks struct {
	Await func(context.Context, *fixture.Jig) error // until the jig would answer to it; nil: it must at once
	Tell  func(done, total int)                     // of readings; nil: nobody looks on
}

// Take takes a calibration of an open jig and stores it, whatever it found of the jig.
// Nothing moves. The order is that of terminal and page alike: hold a verification against
// the zero, have the jig ready, read, store.
func Take(ctx context.Context, store *results.Store, jig *fixture.Jig, c Order, hooks Hooks) (
	taken sequence.Calibration, err error) {
	caps, now := jig.Capabilities(), time.Now()
	var sure time.Time
	if c.Kind == sequence.KindVerify {
		box := *c.Box // which the plant may have given an earlier last day
		if box.Due, sure, err = store.Notices.Limit(ctx, "box", box.Due, now, box.Name, box.Serial); err != nil {
			return taken, err
		}
		c.Box = &box
		state, err := store.Care.DueState(ctx, caps.Serial, caps.Simulated, now)
		if err != nil {
			return taken, err
		}
		if !state.Zero.Holds() {
			clock, err := store.Floor.Clock(ctx)
			if err != nil {
				return taken, err
			}
			return taken, &ZeroFirstError{caps.Serial, state.Zero, state.Zero.Said(clock)}
		}
		jig = jig.Zeroed(state.Zero.Last.Zeros())
	}
	await := hooks.Await
	if await == nil {
		await = func(ctx context.Context, jig *fixture.Jig) error { return jig.Unbar(ctx) }
	}
	if err := await(ctx, jig); err != nil {
		return taken, err
	}
	when := calibrate.Occasion{Now: time.Now(), Surely: sure, Operator: c.Operator, Interval: c.Interval}
	if counted := (countedJig{jig, hooks.Tell}); c.Kind == sequence.KindVerify {
		taken, err = calibrate.Verify(ctx, counted, caps, c.Box, when)
	} else {
		taken, err = calibrate.Zero(ctx, counted, caps, when)
	}
	if err != nil {
		return taken, err
	}
	if _, err := store.Care.SaveCalibration(ctx, taken); err != nil {
		return taken, &NotKeptError{err}
	}
	return taken, nil
}

// countedJig tells how many readings are done.
type countedJig struct {
	*fixture.Jig
	tell func(done, total int)
}

// Perform has the routines performed and tells of each.
func (j countedJig) Perform(ctx context.Context, routines []*fixture.Routine, each func(int, fixture.Done) error) error {
	if j.tell == nil {
		return j.Jig.Perform(ctx, routines, each)
	}
	j.tell(0, len(routines))
	return j.Jig.Perform(ctx, routines, func(i int, d fixture.Done) error {
		j.tell(i+1, len(routines))
		return each(i, d)
	})
}
