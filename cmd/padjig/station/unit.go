package station

import (
	"context"
	"errors"
	"time"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Scan takes a serial number that was scanned. It answers at once; what comes
// of it is in the state. Scans that can only be slips - the same unit twice,
// another one during a test - do nothing.
func (l *Lane) Scan(scan Scan) {
	l.mu.Lock()
	phase, unit, present := l.state.Phase, l.state.Unit.Serial, l.state.Jig.Present
	twice := phase == Ended && unit == scan.Serial && !scan.Overridden && scan.Return == nil && time.Since(l.ended) < l.setup.Twice
	l.mu.Unlock()
	switch {
	case phase.Busy() && unit == scan.Serial, twice:
		l.note(NoteTwice, scan.Serial)
	case phase.Busy():
		l.note(NoteBusy, scan.Serial)
	case phase == Locked && unit == scan.Serial && scan.Return == nil:
		l.recall()
	case !present:
		l.unit(scan, refuse(NotMeasured, link.ErrLost, nothing, NoJig, l.setup.Jig))
	default:
		l.order(scan)
	}
}

// order hands a scan to the loop, if its number can be one.
func (l *Lane) order(scan Scan) {
	if err := AdmitSerial(l.State().Product, scan.Serial); err != nil {
		l.unit(scan, err)
		return
	}
	gone := false
	l.turn(func(s *State) {
		if gone = !s.Jig.Present; gone || s.Phase.Busy() { // the jig has just gone, or another scan was quicker
			return
		}
		l.hand(s, scan)
		s.Phase, l.halt = Running, false
		l.orders <- scan // there is room: a phase that is not busy has no order waiting
	})
	if gone {
		l.unit(scan, refuse(NotMeasured, link.ErrLost, nothing, NoJig, l.setup.Jig))
	}
}

// hand makes a scanned unit the one in hand: what stood before is gone.
func (l *Lane) hand(s *State, scan Scan) {
	s.Unit = sequence.Unit{Serial: scan.Serial, Operator: scan.Operator}
	s.Limit, s.How = s.Product.Attempts, ""
	s.Step, s.Done, s.Total, s.Left, s.Ask = "", 0, 0, 0, sequence.Ask{}
	s.Keys, s.Verdict, s.Refusal = nil, nil, nil
}

// unit refuses a unit before anything was done with it.
func (l *Lane) unit(scan Scan, err error) {
	l.turn(func(s *State) {
		l.hand(s, scan)
		s.Phase, s.Refusal = Refused, RefusalOf(err)
	})
}

func (l *Lane) note(code NoteCode, args ...string) {
	l.change(func(s *State) {
		s.Note = &Note{code, args}
		s.Epoch++
	})
}

func (l *Lane) recall() {
	l.turn(func(s *State) {
		s.Phase = Ended
		s.Note = &Note{NoteRecalled, []string{s.Unit.Serial}}
	})
	l.rewind()
}

// Stop stops the test in hand: the jig lets go, the run is stored as aborted. A
// test that has not begun yet does not begin.
func (l *Lane) Stop() {
	l.mu.Lock()
	busy, stop := l.state.Phase.Busy(), l.stop
	l.halt = busy
	l.mu.Unlock()
	if !busy {
		l.note(NoteNotNow)
		return
	}
	l.note(NoteStopping)
	if stop != nil {
		stop()
	}
}

// Clear takes a refusal or a verdict away: the lane waits for the next unit.
func (l *Lane) Clear() {
	l.turn(func(s *State) {
		if !s.Phase.Busy() && s.Phase != Locked {
			l.hand(s, Scan{})
			s.Phase = Ready
		}
	})
}

// Refresh looks again at what is due, as after something was replaced.
func (l *Lane) Refresh() {
	ring(l.refresh)
}

func ring(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// Release makes another revision of the product hold from the next unit on: at
// once, or when the unit in hand is done.
func (l *Lane) Release(p *product.Product) {
	l.mu.Lock()
	l.next = p
	l.mu.Unlock()
	l.takeNext()
	l.Refresh()
}

func (l *Lane) takeNext() {
	l.turn(func(s *State) {
		if l.next == nil || s.Phase.Busy() {
			return
		}
		s.Product, l.next = l.next, nil
		if s.Phase != Ended && s.Phase != Locked { // a verdict stands as it was found
			l.hand(s, Scan{})
			s.Phase = Ready
		}
		s.Note = &Note{NoteReleased, []string{s.Product.Revision}}
	})
}

func (l *Lane) job(scan Scan) *Job {
	return &Job{
		Product: l.State().Product, Store: l.setup.Store, Serial: scan.Serial, Operator: scan.Operator,
		How: l.setup.Press, Watcher: l, Overridden: scan.Overridden, At: l.setup.At, Return: scan.Return,
	}
}

// test tests the unit in hand. The verdict comes up when it is stored.
func (l *Lane) test(ctx context.Context, jig *fixture.Jig, scan Scan) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	l.stoppable(cancel)
	defer l.stoppable(nil)
	done, err := l.testIn(ctx, jig, l.job(scan))
	if err != nil {
		l.refused(err)
		return
	}
	ended := time.Now()
	l.turn(func(s *State) {
		s.Phase, s.Verdict, s.Keys = Ended, &done, done.Keys
		s.Tally.turn(ShiftStart(ended, l.setup.Shifts))
		r := done.Run
		s.count(tallied{
			Counted{r.Product, r.Jig.Serial, r.Simulated}, r.Serial, r.Purpose, r.Attempt, done.Turn, r.Outcome, r.Started, r.Duration})
		l.ended = ended
	})
	l.rewind()
}

// stoppable has Stop call a function, at once where it was called before.
func (l *Lane) stoppable(stop context.CancelFunc) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.stop = stop; stop != nil && l.halt {
		stop()
	}
}

// testIn is Job.TestOn on a jig that is open already.
func (l *Lane) testIn(ctx context.Context, jig *fixture.Jig, job *Job) (Done, error) {
	if err := l.admit(ctx, jig, job); err != nil {
		return Done{}, stopped(ctx, err)
	}
	run, cause, begun, err := job.perform(ctx, jig)
	if err != nil {
		return Done{}, err
	}
	done, err := job.finish(ctx, begun, run, cause)
	if err != nil || job.Return == nil || l.setup.Staged == nil {
		return done, err
	}
	return done, l.setup.Staged(context.WithoutCancel(ctx), job.Product, job.Return.Case, done.Stored)
}

// admit is everything up to the jig that would move.
func (l *Lane) admit(ctx context.Context, jig *fixture.Jig, job *Job) error {
	history, err := job.admit(ctx)
	if err != nil {
		return err
	}
	if err := job.standing(ctx, jig, history); err != nil {
		return err
	}
	if l.setup.Load != nil {
		l.setup.Load(job.Serial)
	}
	return l.close(ctx, jig)
}

// lidPatience is how long a scanned unit may wait for the lid to be closed.
const (
	lidPatience = 2 * time.Minute
	lidGlance   = 150 * time.Millisecond
)

// close waits until the jig would move: closing the lid is the start. Releasing
// an emergency stop starts nothing: its reset only permits a restart (ISO 13850,
// from memory), which is another scan.
func (l *Lane) close(ctx context.Context, jig *fixture.Jig) error {
	began := time.Now()
	for {
		why := l.movable(ctx, jig)
		if why == nil || RefusalOf(why).Code != LidOpen || ctx.Err() != nil || time.Since(began) > lidPatience {
			return why
		}
		l.await(RefusalOf(why))
		wait(ctx, lidGlance)
	}
}

// movable refuses while the jig would not move.
func (l *Lane) movable(ctx context.Context, jig *fixture.Jig) error {
	err := jig.Ready(ctx)
	switch code := Stilled(err); {
	case err == nil:
		return nil
	case code == LidOpen, code == EmergencyStop:
		return refuse(NotMeasured, err, nothing, code)
	}
	return refuse(NotMeasured, err, nothing, NoJig, l.setup.Jig)
}

// Stilled names what keeps a jig still, or has stopped a run, where a person at
// the jig can see to it; it is empty for anything else.
func Stilled(cause error) Code {
	switch {
	case errors.Is(cause, fixture.ErrInterlock):
		return LidOpen
	case errors.Is(cause, fixture.ErrEmergency):
		return EmergencyStop
	case errors.Is(cause, context.Canceled):
		return Stopped
	}
	return ""
}

// await says what a unit waits for.
func (l *Lane) await(what *Refusal) {
	if s := l.State(); s.Phase == Lid && s.Refusal.Code == what.Code {
		return
	}
	l.turn(func(s *State) { s.Phase, s.Refusal = Lid, what })
}

func (l *Lane) refused(err error) {
	l.turn(func(s *State) { s.Phase, s.Refusal = Refused, RefusalOf(err) })
}

// Warn does nothing: conditions are looked up beforehand, see look.
func (l *Lane) Warn(Warning) {}

// Begin shows what is about to be done.
func (l *Lane) Begin(plan *sequence.Plan, unit sequence.Unit, limit int) {
	l.turn(func(s *State) {
		s.Phase, s.Unit, s.Limit, s.How, s.Refusal = Running, unit, limit, plan.Actuation, nil
		s.Keys = make([]sequence.KeyResult, len(plan.Product.Keys))
		for k, key := range plan.Product.Keys {
			s.Keys[k] = sequence.KeyResult{Key: key.Label, Verdict: sequence.KeyUntested}
		}
	})
}

// Step shows how far it is.
func (l *Lane) Step(p sequence.Progress) {
	l.change(func(s *State) {
		before := s.Step
		s.Step, s.Done, s.Total, s.Left = p.Step.Name, p.Done, p.Total, p.Left
		if p.Ask.Code != "" || p.Step.Name != before {
			s.Ask = p.Ask // what was asked holds until the next thing is, or the step is over
		}
		if p.Key != nil {
			if k := s.Product.Key(p.Key.Key); k >= 0 {
				s.Keys[k] = *p.Key
			}
		}
	})
}

// End shows that the jig is done and the result not yet stored.
func (l *Lane) End(sequence.Run) {
	l.turn(func(s *State) { s.Phase = Storing })
}
