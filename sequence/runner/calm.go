package runner

import (
	"math"
	"slices"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/judge"
)

// calm is what a run has found of what surrounds its jig: whether readings have to be
// patient, which wait until lines have settled that hold far more than the jig states,
// and last whole periods of mains.
type calm struct{ lost bool }

// patiently says that readings on a range have to be patient.
func (m routines) patiently(rng int) bool {
	return m.calm != nil && m.calm.lost && m.set.Jig.Ranges[rng].Ohm >= fixture.PatientFrom
}

// between stages and reads what is between the first channels fed and grounded.
func (m routines) between(r *fixture.Routine, stage fixture.Stage, samples int) fixture.Slot {
	m.connect(r, stage)
	return m.convert(r, stage, samples)
}

// connect stages, and waits for lines that may hold more than the jig states, on every
// range: with the smaller references that is no time.
func (m routines) connect(r *fixture.Routine, stage fixture.Stage) {
	stage.Patient = m.calm != nil && m.calm.lost
	r.Stage(stage)
}

// convert reads a stage that is set.
func (m routines) convert(r *fixture.Routine, stage fixture.Stage, samples int) fixture.Slot {
	if m.patiently(stage.Range) {
		return r.Steady(stage.Feed[0], stage.Ground[0])
	}
	return r.Read(stage.Feed[0], stage.Ground[0], samples)
}

func disturbed(d fixture.Done, slots []fixture.Slot) bool {
	return slices.ContainsFunc(slots, d.Disturbed)
}

// calmly looks at groups again whose readings were disturbed. Disturbed once and not
// again, it was something of the unit that came to an end, and counts as it was seen.
// Otherwise it is what surrounds the jig: all is read patiently from then on, the groups
// twice, and where both readings do not hold the limit and do not agree either, nothing
// is known, least of all of the unit.
func (a atRest) calmly(step string, all []judge.Split, first []fixture.Resistance) error {
	once := a.routine()
	slots := a.groups(once, all, a.set.High, samplesRest)
	done, err := a.line.one(once)
	if err != nil {
		return err
	}
	if !disturbed(done, slots) {
		if !a.near(first) && !a.near(readingsOf(done, slots)) {
			return taken(a.conclude(step, all, first))
		}
		return a.patient(step, all, first)
	}
	twice, swamped, err := a.twice(all)
	if err == nil {
		err = a.doubtful(twice[0], twice[1], swamped)
	}
	if err == nil {
		err = taken(a.conclude(step, all, twice[1]))
	}
	if err != nil {
		return err
	}
	return a.settles()
}

// twice reads groups patiently, two times, and says which were swamped. From then on all is
// read so.
func (a atRest) twice(all []judge.Split) (twice [2][]fixture.Resistance, swamped []bool, err error) {
	a.calm.lost, swamped = true, make([]bool, len(all))
	for i := range twice {
		routine := a.routine()
		slots := a.groups(routine, all, a.set.High, samplesRest)
		done, err := a.line.one(routine)
		if err != nil {
			return twice, swamped, err
		}
		twice[i] = readingsOf(done, slots)
		for g, is := range swampedOf(done, slots) {
			swamped[g] = swamped[g] || is
		}
	}
	return twice, swamped, nil
}

// nearLimit is up to how many times its limit a quick reading is taken once more, patiently:
// mains of 50 nA move the 0.25 uA that 10 Mohm leave of 2.5 V by a fifth, and at their peak
// no conversion shows them (derived).
const nearLimit = 1.25

// near reports whether readings are below their limit or not far above: not what a finding or
// a pass rests on as they are.
func (a atRest) near(readings []fixture.Resistance) bool {
	limit, guard := a.set.StrictestAtRest()
	return slices.ContainsFunc(readings, func(r fixture.Resistance) bool {
		return judge.Apart(r, quantity.Ohm(nearLimit*float64(limit)), guard) != decide.Accepted
	})
}

// patient reads groups patiently that a quick reading found close to their limit, and goes by
// that. A contact that is gone by then was seen: no current that comes from outside is like
// it. Any weaker leak may have been one, and then nothing is known of the unit, unless something
// else is: a key with a diode that is slow to open reads like that.
func (a atRest) patient(step string, all []judge.Split, quick []fixture.Resistance) error {
	twice, swamped, err := a.twice(all)
	if err != nil {
		return err
	}
	first, now := twice[0], twice[1]
	for i, before := range quick {
		if a.set.IsOpen(before) {
			if judge.Vanished(before, now[i]) && !a.judge.Blamed() {
				return a.unsure(before, now[i])
			}
			continue
		}
		if judge.Vanished(before, first[i]) || judge.Vanished(before, now[i]) {
			return taken(a.conclude(step, all, quick))
		}
		first[i], swamped[i] = now[i], false // it is no matter of a few parts in a hundred
	}
	if err := a.doubtful(first, now, swamped); err != nil {
		return err
	}
	return taken(a.conclude(step, all, now))
}

// lose keeps what a quick reading saw of a contact, when nothing more can be read.
func (a atRest) lose(step string, quick []fixture.Resistance) {
	if i := slices.IndexFunc(quick, func(r fixture.Resistance) bool { return !a.set.IsOpen(r) }); i >= 0 {
		a.judge.Leak(step, quick[i], sequence.NotLocated)
	}
}

// settles looks whether lines that hold more than the jig states come to rest in the time
// that patience gives them, on the range with which contacts are watched: lines that do
// not look there like a second contact, and like one that bounces. It comes last, since its
// current would burn away a thread of silver that is not located yet.
func (a atRest) settles() error {
	routine := a.routine()
	slots := a.groups(routine, a.set.Groups(a.known), a.set.Mid, samplesGlance)
	done, err := a.line.one(routine)
	if err != nil {
		return err
	}
	moves := done.Disturbed
	if a.patiently(a.set.Mid) { // then it has all that mains do, over whole periods
		moves = done.Unsettled
	}
	for i, now := range readingsOf(done, slots) {
		if moves(slots[i]) {
			return a.unsure(now, now)
		}
	}
	return nil
}

// doubtful is the error of two patient readings of groups of which nothing is known: they
// do not hold the limit, and either do not agree, or are of more swing than current, or
// of lines that had still not settled.
func (a atRest) doubtful(before, now []fixture.Resistance, swamped []bool) error {
	limit, guard := a.set.StrictestAtRest()
	for i := range now {
		holds := judge.Apart(before[i], limit, guard) == decide.Accepted && judge.Apart(now[i], limit, guard) == decide.Accepted
		if !holds && (swamped[i] || !agree(before[i], now[i])) {
			return a.unsure(before[i], now[i])
		}
	}
	return nil
}

func (a atRest) unsure(before, now fixture.Resistance) error {
	return &judge.Misread{Why: sequence.Fact(sequence.MeasurementDoubtful, a.set.Jig.Serial, before.String(), now.String())}
}

func swampedOf(d fixture.Done, slots []fixture.Slot) []bool {
	all := make([]bool, len(slots))
	for i, s := range slots {
		all[i] = d.Swamped(s) || d.Unsettled(s)
	}
	return all
}

// agreeSigmas is how many standard uncertainties of their difference two readings of the
// same may be apart.
const agreeSigmas = 3

// agree reports whether two readings are numbers that may well be of the same resistance.
func agree(a, b fixture.Resistance) bool {
	return !a.AtLeast && !b.AtLeast &&
		math.Abs(float64(a.Value-b.Value)) <= agreeSigmas*math.Hypot(float64(a.U), float64(b.U))
}

// taken takes a recovery at once, outside the plan's row.
func taken(err error) error {
	if rec, is := err.(recovery); is {
		return rec.complete()
	}
	return err
}
