package sequence

import (
	"errors"
	"fmt"
	"time"

	"padjig/fixture"
)

// exchange is one routine of a step and what to do with its results.
type exchange struct {
	routine *fixture.Routine
	done    func(fixture.Done) error
}

// errStop ends a run early with the outcome already set.
var errStop = errors.New("stop")

// detour is the error of an exchange that cannot be judged without asking the
// jig something that was not planned. What is queued is dropped, the detour
// taken, and the plan resumed at the next step. Where it cannot be taken to its
// end, lost keeps what was seen.
type detour struct {
	take func() error
	lost func()
}

func (detour) Error() string { return "detour" }

// steps carries out the plan. Steps made of exchanges are queued in a row, the
// next one's behind the last one's, so that the line's latency is paid once and
// not at each step; a step that waits for a person runs by itself.
func (r *runner) steps() error {
	for i := 0; i < len(r.plan.Steps); {
		next, err := r.stretch(i)
		var turn detour
		if errors.As(err, &turn) {
			err = r.turnOff(next-1, turn)
		}
		if errors.Is(err, errStop) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("step %q: %w", r.plan.Steps[min(next, len(r.plan.Steps))-1].Name, err)
		}
		i = next
	}
	return r.closingLook()
}

// stretch carries out steps from the given one on, as far as they can be
// queued in a row, and returns the step after the last one begun.
func (r *runner) stretch(from int) (next int, err error) {
	if work := r.plan.Steps[from].work; work != nil {
		return from + 1, r.timed(from, func() error { return work(r, r.plan.Steps[from]) })
	}
	queue, owner := r.queue(from)
	current, began := from-1, time.Now()
	enter := func(step int) {
		for current < step {
			if current >= from {
				r.finish(current, time.Since(began))
			}
			current, began = current+1, time.Now()
			r.say(Progress{Step: r.plan.Steps[current], Total: len(r.plan.Steps[current].Keys)})
		}
	}
	enter(from)
	routines := make([]*fixture.Routine, len(queue))
	for i, e := range queue {
		routines[i] = e.routine
	}
	err = r.perform(routines, func(i int, d fixture.Done) error {
		enter(owner[i])
		return queue[i].done(d)
	})
	if err != nil {
		return current + 1, err
	}
	last := r.lastOf(from)
	enter(last)
	r.finish(last, time.Since(began))
	return last + 1, nil
}

// queue lists the exchanges of a stretch, and the step each belongs to.
func (r *runner) queue(from int) (queue []exchange, owner []int) {
	for i := from; i <= r.lastOf(from); i++ {
		for _, e := range r.plan.Steps[i].exchanges(r, r.plan.Steps[i]) {
			queue, owner = append(queue, e), append(owner, i)
		}
	}
	if len(queue) > 0 && r.lastOf(from) == len(r.plan.Steps)-1 {
		letGo(queue[len(queue)-1].routine)
	}
	return queue, owner
}

// lastOf is the last step of the stretch that begins with the given one.
func (r *runner) lastOf(from int) int {
	last := from
	for last+1 < len(r.plan.Steps) && r.plan.Steps[last+1].work == nil && !r.plan.Steps[last].alone {
		last++
	}
	return last
}

// letGo closes a routine that ends a run: with it done, nothing is pressed or
// joined, and the jig floats its channels by itself.
func letGo(routine *fixture.Routine) {
	routine.ReleaseAll()
	routine.Part()
}

// turnOff takes a detour and counts the step as done. The jig may have begun
// the next key meanwhile: it is let up first.
func (r *runner) turnOff(step int, turn detour) error {
	if err := r.riseAgain(); err != nil {
		turn.lost()
		return err
	}
	return r.timed(step, turn.whole)
}

// whole takes the detour, or keeps what it was for.
func (d detour) whole() error {
	err := d.take()
	if err != nil {
		d.lost()
	}
	return err
}

func (r *runner) timed(step int, do func() error) error {
	began := time.Now()
	err := do()
	if errors.Is(err, errLeftOut) {
		return nil
	}
	if err != nil {
		return err
	}
	r.finish(step, time.Since(began))
	return nil
}

func (r *runner) finish(step int, took time.Duration) {
	r.run.Steps[step].Done = true
	r.run.Steps[step].Took += took
}

// closingLook looks again at what the keys left open, and then once more at
// rest, since keys were pressed for it. Nothing to look at means the plan's
// last routine was the last of all.
func (r *runner) closingLook() error {
	switch r.plan.Purpose {
	case FirstPress:
		return r.firstLook()
	case Exercise:
		return nil
	}
	again := len(r.doubtful) > 0 || len(r.strays) > 0
	err := r.lookAgain()
	if err == nil && again {
		err = r.restAgain()
	}
	if errors.Is(err, errStop) {
		return nil
	}
	return err
}

func (r *runner) lookAgain() error {
	if err := r.repeatDoubtful(); err != nil {
		return fmt.Errorf("read again: %w", err)
	}
	if err := r.locateStrays(); err != nil {
		return fmt.Errorf("find what else closed: %w", err)
	}
	return r.findWiring()
}

// restAgain reads the lines at rest outside the plan's row.
func (r *runner) restAgain() error {
	for _, e := range r.rest(r.plan.Steps[len(r.plan.Steps)-1]) {
		done, err := r.one(e.routine)
		if err != nil {
			return err
		}
		var turn detour
		if err := e.done(done); errors.As(err, &turn) {
			err = turn.whole()
			if err != nil {
				return err
			}
		}
	}
	return nil
}
