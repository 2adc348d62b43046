package runner

import (
	"context"
	"errors"
	"fmt"
	"time"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/evidence"
	"padjig/sequence/judge"
	"padjig/sequence/nets"
)

// ErrPerson is returned by [Plan.Look] for a check that a person has to do.
var ErrPerson = errors.New("a person has to do this check")

// Look does a check that a diagnosis proposes, on the unit in the jig, and says what came
// out. It presses nothing but the key the check names, and leaves the jig inert.
func (plan *Plan) Look(ctx context.Context, jig sequence.Jig, check diagnose.Check) (diagnose.Looked, error) {
	l := looking{finder{
		routines: routines{set: plan.set, calm: &calm{lost: true}}, line: line{ctx: ctx, jig: jig}, known: nets.New(len(plan.Product.Lines)),
	}}
	look, ok := map[diagnose.Action]func(diagnose.Check) (diagnose.Looked, error){
		diagnose.PressAgain: l.pressAgain, diagnose.PressJoined: l.pressJoined, diagnose.WatchPair: l.watchPair,
		diagnose.HoldKey: l.holdAgain, diagnose.ReadLoops: l.readLoops,
	}[check.Action]
	if !ok {
		return diagnose.Looked{}, fmt.Errorf("%s: %w", check.Action, ErrPerson)
	}
	looked, err := look(check)
	if inert := sequence.MakeInert(ctx, jig); err == nil {
		err = inert
	}
	if err != nil {
		return looked, fmt.Errorf("%s: %w", check.Action, err)
	}
	return looked, nil
}

// looking does one check.
type looking struct{ finder }

// keyOf is the key that a check is about.
func (l looking) keyOf(check diagnose.Check) (int, error) {
	p := l.set.Product
	k := p.Key(check.Key)
	switch {
	case k < 0:
		return 0, fmt.Errorf("%s has no key %q", p.Code, check.Key)
	case l.set.Actuation != sequence.Mechanical:
		return 0, fmt.Errorf("this jig does not push keys; %w", ErrPerson)
	}
	return k, nil
}

func (l looking) pressAgain(check diagnose.Check) (diagnose.Looked, error) {
	k, err := l.keyOf(check)
	if err != nil {
		return diagnose.Looked{}, err
	}
	var queue []*keyRoutine
	for range max(check.Times, 1) {
		queue = append(queue, l.valueOf(k, l.known))
	}
	var readings []readings.Reading
	err = l.line.presses(queue, func(q *keyRoutine, d fixture.Done) error {
		v := q.valueIn(d)
		if l.set.IsOpen(v.Glance) || v.NoLaw {
			v.Closed = fixture.Resistance{Value: v.Glance.Value, AtLeast: true}
		}
		readings = append(readings, evidence.Reading(v.Closed))
		return nil
	})
	return check.Presses(readings), err
}

// pressJoined reads the lines of a key on the range that knows them best, at rest and
// with the key held.
func (l looking) pressJoined(check diagnose.Check) (diagnose.Looked, error) {
	k, err := l.keyOf(check)
	if err != nil {
		return diagnose.Looked{}, err
	}
	feed, ground := l.ends(k)
	routine := l.routine()
	read := func(rng, samples int) fixture.Slot {
		return l.between(routine, fixture.Stage{Range: rng, Feed: []int{feed}, Ground: []int{ground}}, samples)
	}
	glance := read(l.set.High, samplesRest)
	done, err := l.line.one(routine)
	if err != nil {
		return diagnose.Looked{}, err
	}
	key, rng := l.set.Product.Keys[k], l.set.RangeFor(done.Resistance(glance).Value, l.set.High)
	routine = l.routine()
	rest := read(rng, samplesRepeat)
	routine.Press(key.Actuator)
	routine.Wait(l.set.Jig.TravelDown + max(key.Limits.Make, minQuiet))
	held := l.convert(routine, fixture.Stage{Range: rng, Feed: []int{feed}, Ground: []int{ground}}, samplesRepeat)
	routine.Release(key.Actuator)
	routine.Wait(l.set.Jig.TravelUp + settleAfterLate)
	done, err = l.line.one(routine)
	if err != nil {
		return diagnose.Looked{}, err
	}
	return check.Joined(l.closeOrOpen(done.Resistance(rest)), l.closeOrOpen(done.Resistance(held))), nil
}

// closeOrOpen calls open whatever is no contact.
func (l looking) closeOrOpen(reading fixture.Resistance) readings.Reading {
	reading.AtLeast = l.set.IsOpen(reading)
	return evidence.Reading(reading)
}

// watchPair watches two lines under voltage, the smallest current first.
func (l looking) watchPair(check diagnose.Check) (diagnose.Looked, error) {
	p := l.set.Product
	if len(check.Lines) != 2 {
		return diagnose.Looked{}, fmt.Errorf("%d lines named, it takes two", len(check.Lines))
	}
	pair := judge.Connection{A: p.Line(check.Lines[0]), B: p.Line(check.Lines[1])}
	if pair.A < 0 || pair.B < 0 {
		return diagnose.Looked{}, fmt.Errorf("%s has no lines %s and %s", p.Code, check.Lines[0], check.Lines[1])
	}
	one := []judge.Connection{pair}
	if err := l.read(one, l.set.High, samplesRest, nil); err != nil {
		return diagnose.Looked{}, err
	}
	pair, err := l.dwell(one[0], l.set.High, l.set.AtRest, nil)
	if err != nil {
		return diagnose.Looked{}, err
	}
	least, _ := l.set.AtRest(pair.A, pair.B)
	return check.Watched(evidence.Reading(pair.Ohm), readings.Reading{Value: least}, evidence.Trend(pair.Trend)), nil
}

// heldFor is how long a key is watched for dropouts.
const heldFor = 2 * time.Second

func (l looking) holdAgain(check diagnose.Check) (diagnose.Looked, error) {
	k, err := l.keyOf(check)
	if err != nil {
		return diagnose.Looked{}, err
	}
	var held fixture.Hold
	err = holding{l.routines, l.line}.hold(k, heldFor, func() {}, &held)
	return check.Held(held.Openings, held.Watched), err
}

// readLoops reads the contact of all channels under the tail and of two beyond.
func (l looking) readLoops(check diagnose.Check) (diagnose.Looked, error) {
	if !l.set.Jig.Loop {
		return diagnose.Looked{}, fmt.Errorf("this jig has one probe a line; %w", ErrPerson)
	}
	tail := l.set.Product.Tail
	var good []bool
	for c := range min(len(tail)+judge.Beyond, l.set.Jig.Channels) {
		routine := l.routine()
		slot := routine.Loop(c, l.set.Low, samplesValue)
		done, err := l.line.one(routine)
		if err != nil {
			return diagnose.Looked{}, err
		}
		unused := c < len(tail) && tail[c] == ""
		good = append(good, unused || judge.Seated(l.set.Jig, done.Resistance(slot)))
	}
	return check.Loops(good, len(tail)), nil
}
