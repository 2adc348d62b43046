package station

import (
	"context"
	"sync"

	"padjig/cmd/padjig/station/watch"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// ExclusiveTask is something done on the unit in a lane's jig that is no test: nothing
// of it is stored, and the lane then stands as it stood before.
type ExclusiveTask struct {
	Serial    string
	Operator  string
	Product   *product.Product // as the unit was tested
	Simulated bool             // what is known of the unit is from simulated jigs
	// Do does it and leaves the jig inert, whatever ends it. It must not wait for
	// whoever looks on: the lane waits for it.
	Do func(ctx context.Context, jig *fixture.Jig, plan *runner.Plan) error
}

// exclusive is a task on its way to the loop.
type exclusive struct {
	ExclusiveTask
	lent  func(context.Context, *fixture.Jig) error // in place of a task on a unit; nil: none
	asked context.Context                           // of whoever asked: the task ends with it
	back  Phase
	over  func(error)
}

// exclusiveAllowed refuses a task that the lane has no room for, or no right unit.
func exclusiveAllowed(s *State, e ExclusiveTask) error {
	verdict := s.Phase == Ended || s.Phase == Locked
	switch {
	case !s.Jig.Present:
		return noJig(link.ErrLost, s.Jig.Name)
	case s.Phase.Busy():
		return refuse(NotMeasured, nil, sequence.Said{}, LaneBusy, s.Unit.Serial, s.Jig.Serial)
	case verdict && s.Unit.Serial != e.Serial:
		return refuse(Wrong, nil, sequence.Said{}, OtherUnit, s.Unit.Serial, e.Serial, s.Jig.Serial)
	case s.Product.Code != e.Product.Code:
		return refuse(Wrong, nil, sequence.Said{}, OtherProduct, e.Serial, e.Product.Code, s.Product.Code)
	case s.Jig.Simulated != e.Simulated:
		return refuse(Wrong, nil, sequence.Said{}, OtherSort)
	}
	return nil
}

// beginExclusive shows that the lane has one, and gives the phase it comes back to: a verdict on
// the same unit stands again afterwards.
func (s *State) beginExclusive(e ExclusiveTask) (back Phase) {
	back = s.Phase
	if s.Phase != Ended && s.Phase != Locked {
		back = Ready
		s.hand(Scan{Serial: e.Serial, Operator: e.Operator})
	}
	s.Phase, s.Note = Exclusive, nil
	s.Epoch++
	return back
}

// RunOnJig gives the lane's jig to a task that is on the jig itself and on no unit, as a calibration,
// while nothing else uses it. It answers at once; over is told how it ended. It ends with Stop,
// and with the lane. Whatever was in the jig, something else is put in: no verdict stands again.
func (l *Lane) RunOnJig(operator string, do func(context.Context, *fixture.Jig) error, over func(error)) error {
	task := ExclusiveTask{Operator: operator}
	return l.give(&exclusive{ExclusiveTask: task, lent: do, asked: context.Background(), over: over}, func(s *State) error {
		switch {
		case !s.Jig.Present:
			return noJig(link.ErrLost, s.Jig.Name)
		case s.Phase.Busy():
			return refuse(NotMeasured, nil, sequence.Said{}, LaneBusy, s.Unit.Serial, s.Jig.Serial)
		}
		s.ready()
		return nil
	})
}

// give puts a task into the queue, unless the lane must not take it.
func (l *Lane) give(e *exclusive, allowed func(*State) error) (err error) {
	over, once := e.over, new(sync.Once)
	e.over = func(err error) { once.Do(func() { over(err) }) }
	if l.shown.changeIf(func(s *State) bool {
		if err = allowed(s); err != nil {
			return false
		}
		e.back = s.beginExclusive(e.ExclusiveTask)
		l.queue.Put(newWork(e.asked, Scan{}, e))
		return true
	}) {
		watch.Put(l.queue.Wake)
	}
	return err
}

// runExclusive does one task, and gives the lane back as it stood.
func (l *loop) runExclusive(jig *fixture.Jig, w *work) {
	var err error
	if w.exclusive.lent != nil {
		err = w.exclusive.lent(w.ctx, jig)
	} else {
		err = l.exclusiveOn(w.ctx, jig, w.exclusive.ExclusiveTask)
	}
	if w.exclusive.asked.Err() == nil {
		err = stopped(w.ctx, err)
	}
	l.giveBack(w.exclusive, err)
}

func (l *loop) giveBack(e *exclusive, err error) {
	l.shown.advance(func(s *State) {
		if s.Phase = e.back; s.Phase == Ready {
			s.ready()
		}
	})
	l.shown.linger(l.setup.LockAfter)
	e.over(err)
}

func (l *loop) exclusiveOn(ctx context.Context, jig *fixture.Jig, e ExclusiveTask) error {
	fitness := l.fitness(e.Product, jig.Capabilities())
	zeros, err := fitness.Calibrated(ctx, func(Warning) {}) // it has been looked up beforehand
	if err != nil {
		return err
	}
	jig = jig.Zeroed(zeros)
	plan, err := Job{Product: e.Product, How: l.setup.Press}.plan(fitness.Caps)
	if err != nil {
		return err
	}
	release, err := fitness.Hold(ctx, e.Serial)
	if err != nil {
		return err
	}
	defer release()
	if l.setup.Load != nil {
		l.setup.Load(e.Serial)
	}
	if err := movable(ctx, jig, l.setup.Jig); err != nil {
		return err
	}
	return e.Do(ctx, jig, plan)
}
