package runner

import (
	"padjig/fixture"
	"padjig/sequence"
)

// exchange is one routine of a step and what to do with its results.
type exchange struct {
	routine *fixture.Routine
	done    func(fixture.Done) error
}

// recovery is the error of an exchange that cannot be judged without asking the
// jig something that was not planned. What is queued is dropped, the recovery
// taken, and the plan resumed at the next step. Where it cannot be taken to its
// end, lost keeps what was seen.
type recovery struct {
	take func() error
	lost func()
}

func (recovery) Error() string { return "recovery" }

// complete takes the recovery, or keeps what it was for.
func (d recovery) complete() error {
	err := d.take()
	if err != nil {
		d.lost()
	}
	return err
}

// ended is the error that ends a run early, with an outcome that is neither pass nor fail.
type ended struct {
	outcome sequence.Outcome
	why     sequence.Said
}

func (e ended) Error() string { return string(e.outcome) }

// stretch is a row of steps whose exchanges are queued one behind the other, so that
// the line's latency is paid once and not at each step.
type stretch struct {
	queue []exchange
	owner []int // the step that each belongs to
}

func (s *stretch) add(step int, all []exchange) {
	for _, e := range all {
		s.queue, s.owner = append(s.queue, e), append(s.owner, step)
	}
}

// letGo closes the routine that ends a run: with it done, nothing is pressed or
// joined, and the jig floats its channels by itself.
func (s *stretch) letGo() {
	if len(s.queue) > 0 {
		last := s.queue[len(s.queue)-1].routine
		last.ReleaseAll()
		last.Part()
	}
}

// perform carries the stretch out; enter is told before each result which step it is of.
func (s *stretch) perform(l line, enter func(step int)) error {
	all := make([]*fixture.Routine, len(s.queue))
	for i, e := range s.queue {
		all[i] = e.routine
	}
	return l.perform(all, func(i int, d fixture.Done) error {
		enter(s.owner[i])
		return s.queue[i].done(d)
	})
}
