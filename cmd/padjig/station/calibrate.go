package station

import (
	"context"
	"fmt"
	"time"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/refbox"
)

// Calibration is a zero or a verification to be taken.
type Calibration struct {
	Kind     sequence.CalibrationKind
	Box      *refbox.Box // of a verification
	Operator string
	Interval time.Duration
}

// ZeroFirstError says that a jig cannot be verified before it has a zero that holds.
type ZeroFirstError struct {
	Jig  string
	Zero care.Due
}

func (e *ZeroFirstError) Error() string {
	return fmt.Sprintf("jig %s %s; nothing was measured", e.Jig, e.Zero)
}

// NotKeptError says that a calibration was taken and is not in the records.
type NotKeptError struct{ error }

// Unwrap is what kept it from being stored.
func (e *NotKeptError) Unwrap() error { return e.error }

// CalibrationHooks are what differs between those who have a jig calibrated.
type CalibrationHooks struct {
	Await func(context.Context, *fixture.Jig) error // until the jig would answer to it; nil: it must at once
	Tell  func(done, total int)                     // of readings; nil: nobody looks on
}

// Calibrate takes a calibration of an open jig and stores it, whatever it found of the jig.
// Nothing moves. The order is that of terminal and page alike: hold a verification against
// the zero, have the jig ready, read, store.
func (r Records) Calibrate(ctx context.Context, jig *fixture.Jig, c Calibration, hooks CalibrationHooks) (
	taken sequence.Calibration, err error) {
	caps, now := jig.Capabilities(), time.Now()
	if c.Kind == sequence.KindVerify {
		state, err := r.Store.Care.DueState(ctx, caps.Serial, caps.Simulated, now)
		if err != nil {
			return taken, r.unread(err)
		}
		if !state.Zero.Holds() {
			return taken, &ZeroFirstError{caps.Serial, state.Zero}
		}
		jig = jig.Zeroed(state.Zero.Last.Zeros())
	}
	await := hooks.Await
	if await == nil {
		await = func(ctx context.Context, jig *fixture.Jig) error { return jig.Ready(ctx) }
	}
	if err := await(ctx, jig); err != nil {
		return taken, err
	}
	when := calibrate.Occasion{Now: time.Now(), Operator: c.Operator, Interval: c.Interval}
	if counted := (countedJig{jig, hooks.Tell}); c.Kind == sequence.KindVerify {
		taken, err = calibrate.Verify(ctx, counted, caps, c.Box, when)
	} else {
		taken, err = calibrate.Zero(ctx, counted, caps, when)
	}
	if err != nil {
		return taken, err
	}
	if _, err := r.Store.Care.SaveCalibration(ctx, taken); err != nil {
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

// CalibrationStage is where a calibration on a lane is.
type CalibrationStage string

// The stages.
const (
	CalibrationAwaits CalibrationStage = "awaits" // the lid is open, or it has not begun yet
	CalibrationReads  CalibrationStage = "reads"
	CalibrationOver   CalibrationStage = "over" // with a result that is stored, or without one
)

// Calibrating is a calibration on a lane's jig: the one under way, or the last one.
type Calibrating struct {
	Calibration
	Began       time.Time
	Stage       CalibrationStage
	Stilled     Code // why the jig would not answer; empty: it would
	Done, Total int  // readings
	Result      *sequence.Calibration
	Why         error // there is no result
}

// Under reports whether it is under way.
func (c *Calibrating) Under() bool { return c != nil && c.Stage != CalibrationOver }

// Calibrate has the lane's jig zeroed or verified, while nothing else uses it. It answers at
// once; what comes of it is in the state, and in the records. Stop ends it.
func (l *Lane) Calibrate(c Calibration) error {
	e := &exclusive{calibration: &c, asked: context.Background(), over: make(chan error, 1)}
	var err error
	l.shown.changeIf(func(s *State) bool {
		switch {
		case !s.Jig.Present:
			err = noJig(link.ErrLost, s.Jig.Name)
		case s.Phase.Busy():
			err = refuse(NotMeasured, nil, sequence.Said{}, LaneBusy, s.Unit.Serial, s.Jig.Serial)
		}
		if err != nil {
			return false
		}
		s.hand(Scan{Operator: c.Operator}) // whatever was in the jig, something else is put in
		s.Phase, s.Note, e.back = Exclusive, nil, Ready
		s.Calibrating = &Calibrating{Calibration: c, Began: time.Now(), Stage: CalibrationAwaits}
		s.Epoch++
		l.queue.put(newWork(context.Background(), Scan{}, e))
		return true
	})
	if err == nil {
		notify(l.queue.wake)
	}
	return err
}

// calibrate takes one calibration.
func (l *loop) calibrate(ctx context.Context, jig *fixture.Jig, c Calibration) error {
	if l.setup.LoadStandard != nil {
		l.setup.LoadStandard(c.Kind)
	}
	taken, err := l.records().Calibrate(ctx, jig, c, CalibrationHooks{
		Await: l.awaitLid,
		Tell: func(done, total int) {
			l.calibrating(func(c *Calibrating) { c.Stage, c.Stilled, c.Done, c.Total = CalibrationReads, "", done, total })
		},
	})
	if err == nil {
		l.calibrating(func(c *Calibrating) { c.Result = &taken })
	}
	return err
}

// awaitLid waits until the jig would answer: closing the lid is the start. Nothing moves in
// a calibration; what a hand in the nest would spoil is the reading.
func (l *loop) awaitLid(ctx context.Context, jig *fixture.Jig) error {
	for began := time.Now(); ; wait(ctx, lidGlance) {
		why := movable(ctx, jig, l.setup.Jig)
		if why == nil || !byTheLid(why) || ctx.Err() != nil || time.Since(began) > lidPatience {
			return why
		}
		l.calibrating(func(c *Calibrating) { c.Stilled = RefusalOf(why).Code })
	}
}

// calibrating changes what is shown of the calibration, where that changes anything.
func (l *loop) calibrating(do func(*Calibrating)) {
	l.shown.changeIf(func(s *State) bool {
		now := *s.Calibrating // replaced, never changed: a state that was given away has the one before
		do(&now)
		if now == *s.Calibrating {
			return false
		}
		s.Calibrating = &now
		return true
	})
}
