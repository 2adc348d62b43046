package bench

import (
	"context"
	"time"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Errand is something done on the unit in a lane's jig that is no test: nothing
// of it is stored, and the lane then stands as it stood before.
type Errand struct {
	Serial    string
	Operator  string
	Product   *product.Product // as the unit was tested
	Simulated bool             // what is known of the unit is from simulated jigs
	// Do does it and leaves the jig inert, whatever ends it. It must not wait for
	// whoever looks on: the lane waits for it.
	Do func(ctx context.Context, jig *fixture.Jig, plan *sequence.Plan) error
}

// lent is an errand on its way to the loop.
type lent struct {
	Errand
	ctx  context.Context // of whoever asked: the errand ends with it
	back Phase
	over chan error // of one
}

// Lend does an errand on the lane's jig, while nothing else moves it. It refuses
// at once when the lane has other work, and ends with ctx, with Stop, and with
// the lane.
func (l *Lane) Lend(ctx context.Context, e Errand) error {
	job := lent{Errand: e, ctx: ctx, over: make(chan error, 1)}
	var err error
	l.change(func(s *State) {
		if err = lendable(s, e); err == nil {
			l.lend(s, job)
		}
	})
	if err != nil {
		return err
	}
	select {
	case err := <-job.over:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// lend hands an errand to the loop. A verdict on the same unit stands again afterwards.
func (l *Lane) lend(s *State, e lent) {
	e.back = s.Phase
	if s.Phase != Ended && s.Phase != Locked {
		e.back = Ready
		l.hand(s, Scan{Serial: e.Serial, Operator: e.Operator})
	}
	s.Phase, s.Note, l.halt = Lent, nil, false
	s.Epoch++
	l.errands <- e // there is room: a phase that is not busy has no order waiting
}

// lendable refuses an errand that the lane has no room for, or no right unit.
func lendable(s *State, e Errand) error {
	verdict := s.Phase == Ended || s.Phase == Locked
	switch {
	case !s.Jig.Present:
		return refuse(NotMeasured, link.ErrLost, nothing, NoJig, s.Jig.Name)
	case s.Phase.Busy():
		return refuse(NotMeasured, nil, nothing, LaneBusy, s.Unit.Serial, s.Jig.Serial)
	case verdict && s.Unit.Serial != e.Serial:
		return refuse(Wrong, nil, nothing, OtherUnit, s.Unit.Serial, e.Serial, s.Jig.Serial)
	case s.Product.Code != e.Product.Code:
		return refuse(Wrong, nil, nothing, OtherProduct, e.Serial, e.Product.Code, s.Product.Code)
	case s.Jig.Simulated != e.Simulated:
		return refuse(Wrong, nil, nothing, OtherSort)
	}
	return nil
}

// errand does one errand, and gives the lane back as it stood.
func (l *Lane) errand(lane context.Context, jig *fixture.Jig, e lent) {
	ctx, cancel := context.WithCancel(e.ctx)
	defer cancel()
	defer context.AfterFunc(lane, cancel)()
	l.stoppable(cancel)
	defer l.stoppable(nil)
	err := l.run(ctx, jig, e.Errand)
	if e.ctx.Err() == nil {
		err = stopped(ctx, err)
	}
	l.giveBack(e, err)
}

func (l *Lane) giveBack(e lent, err error) {
	l.turn(func(s *State) {
		if s.Phase = e.back; s.Phase == Ready {
			l.hand(s, Scan{})
		}
	})
	l.rewind()
	e.over <- err
}

func (l *Lane) run(ctx context.Context, jig *fixture.Jig, e Errand) error {
	job := l.job(Scan{Serial: e.Serial, Operator: e.Operator})
	job.Product = e.Product
	zeros, err := job.Calibrated(ctx, jig.Capabilities(), time.Now())
	if err != nil {
		return err
	}
	jig.SetZero(zeros)
	plan, err := job.plan(jig.Capabilities())
	if err != nil {
		return err
	}
	history, err := job.Store.Runs.History(ctx, e.Serial)
	switch {
	case err != nil:
		return job.noRecords(err)
	case history.InHand != nil:
		return inHand(&runs.InHandError{Start: *history.InHand})
	}
	if l.setup.Load != nil {
		l.setup.Load(e.Serial)
	}
	if err := l.movable(ctx, jig); err != nil {
		return err
	}
	return e.Do(ctx, jig, plan)
}
