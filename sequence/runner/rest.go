package runner

import (
	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/judge"
)

// atRest reads every line against every other with nothing pressed.
type atRest struct {
	finder
	judge *judge.Rest
}

func (a atRest) exchanges(step string) []exchange {
	routine := a.routine()
	slots := a.groups(routine, a.known, a.set.High, samplesRest)
	return []exchange{{routine, func(d fixture.Done) error {
		seen, close := a.judge.Close(readingsOf(d, slots))
		if !close {
			return nil
		}
		return recovery{
			take: func() error { return a.locate(step, seen) },
			lost: func() { a.judge.Leak(step, seen, sequence.NotLocated) },
		}
	}}}
}

// locate finds which lines are too close, pair by pair among those that
// do not hold against all the rest. Seen is the group reading that told.
func (a atRest) locate(step string, seen fixture.Resistance) error {
	found, err := a.closePairs(a.set.High, a.set.AtRest)
	if err != nil || len(found) > 0 {
		a.judge.Found(step, found)
		return err
	}
	routine := a.routine()
	slots := a.groups(routine, a.known, a.set.High, samplesRest)
	done, err := a.line.one(routine)
	if err == nil {
		a.judge.Gone(step, seen, readingsOf(done, slots))
	}
	return err
}

// again reads the lines at rest outside the plan's row.
func (a atRest) again() error {
	for _, e := range a.exchanges(judge.RestAgain) {
		done, err := a.line.one(e.routine)
		if err != nil {
			return err
		}
		if rec, is := e.done(done).(recovery); is {
			if err := rec.complete(); err != nil {
				return err
			}
		}
	}
	return nil
}
