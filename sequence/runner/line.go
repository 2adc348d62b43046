package runner

import (
	"context"

	"padjig/fixture"
	"padjig/sequence"
)

// line is how the jig is asked, for the time of a run.
type line struct {
	ctx context.Context // kept here because every exchange waits on the jig
	jig sequence.Jig
	own *fixture.Own // what the jig has read of itself; nil: it was not asked
}

// perform has all that comes corrected by what the jig has read of itself by then.
func (l line) perform(routines []*fixture.Routine, each func(int, fixture.Done) error) error {
	return l.jig.Perform(l.ctx, routines, func(i int, d fixture.Done) error {
		if l.own != nil {
			d = d.Knowing(*l.own)
		}
		return each(i, d)
	})
}

// one performs a single routine.
func (l line) one(routine *fixture.Routine) (done fixture.Done, err error) {
	err = l.perform([]*fixture.Routine{routine}, func(_ int, d fixture.Done) error {
		done = d
		return nil
	})
	return done, err
}

// presses performs routines of keys, each of which is judged as it comes.
func (l line) presses(queue []*keyRoutine, each func(*keyRoutine, fixture.Done) error) error {
	routines := make([]*fixture.Routine, len(queue))
	for i, q := range queue {
		routines[i] = q.r
	}
	return l.perform(routines, func(i int, d fixture.Done) error { return each(queue[i], d) })
}

// riseAgain drops what is queued and lets the key come up that was begun.
func (l line) riseAgain(m routines) error {
	if err := l.jig.Inert(l.ctx); err != nil {
		return err
	}
	rise := m.routine()
	rise.Wait(m.set.Jig.TravelUp + settleAfterLate)
	_, err := l.one(rise)
	return err
}

// watcher is who looks on; nil for nobody. When it is full, progress is lost, never time.
type watcher chan<- sequence.Progress

func (w watcher) say(p sequence.Progress) {
	select {
	case w <- p:
	default:
	}
}
