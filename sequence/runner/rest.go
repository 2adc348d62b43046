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
	own   *itself
}

func (a atRest) exchanges(step string) []exchange {
	routine, all := a.routine(), a.set.Groups(a.known)
	slots := a.groups(routine, all, a.set.High, samplesRest)
	read := exchange{routine, func(d fixture.Done) error {
		readings := readingsOf(d, slots)
		if a.patiently(a.set.High) {
			if a.doubtful(readings, readings, swampedOf(d, slots)) == nil {
				return a.conclude(step, all, readings)
			}
			// A key that is slow to open may do so just now.
			return recovery{take: func() error { return a.patient(step, all, readings) }, lost: func() { a.lose(step, readings) }}
		}
		if disturbed(d, slots) {
			return recovery{take: func() error { return a.calmly(step, all, readings) }, lost: func() {}}
		}
		if a.near(readings) {
			return recovery{take: func() error { return a.patient(step, all, readings) }, lost: func() { a.lose(step, readings) }}
		}
		return a.conclude(step, all, readings)
	}}
	if step == judge.RestAgain && len(a.set.Jig.Checks) > 0 {
		return []exchange{a.selfTestAgain(), read}
	}
	return []exchange{read}
}

// conclude judges what was read between the groups. Lines that are too close have to be
// located: that is a recovery.
func (a atRest) conclude(step string, all []judge.Split, readings []fixture.Resistance) error {
	a.judge.Read(step, all, readings)
	seen, close := a.judge.Close(step, readings)
	if !close {
		return nil
	}
	return recovery{
		take: func() error { return a.locate(step, seen) },
		lost: func() { a.judge.Leak(step, seen, sequence.NotLocated) },
	}
}

// locate finds which lines are too close, pair by pair among those that
// do not hold against all the rest. Seen is the group reading that told.
func (a atRest) locate(step string, seen fixture.Resistance) error {
	f := a.finder
	f.keep = func(between []judge.Split, readings []fixture.Resistance) { a.judge.Read(step, between, readings) }
	found, err := f.closePairs(a.set.High, a.set.AtRest)
	if err != nil || len(found) > 0 {
		a.judge.Found(step, found)
		return err
	}
	routine, all := a.routine(), a.set.Groups(a.known)
	slots := a.groups(routine, all, a.set.High, samplesRest)
	done, err := a.line.one(routine)
	if err == nil {
		readings := readingsOf(done, slots)
		a.judge.Read(step, all, readings)
		a.judge.Gone(step, seen, readings)
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
		if err := taken(e.done(done)); err != nil {
			return err
		}
	}
	return nil
}
