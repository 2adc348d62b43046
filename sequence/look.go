package sequence

import (
	"context"
	"errors"
	"fmt"
	"time"

	"padjig/fixture"
	"padjig/sequence/diagnose"
	"padjig/sequence/diagnose/readings"
)

// ErrPerson is returned by [Plan.Look] for a check that a person has to do.
var ErrPerson = errors.New("a person has to do this check")

// Look does a check that a diagnosis proposes, on the unit in the jig, and says what came
// out. It presses nothing but the key the check names, and leaves the jig inert.
func (plan *Plan) Look(ctx context.Context, jig Jig, check diagnose.Check) (diagnose.Looked, error) {
	r := &runner{ctx: ctx, plan: plan, jig: jig, run: plan.blank(Unit{}), known: newNets(len(plan.Product.Lines))}
	r.opened = make([]bool, len(plan.Product.Keys))
	look, ok := map[diagnose.Action]func(diagnose.Check) (diagnose.Looked, error){
		diagnose.PressAgain: r.pressAgain, diagnose.PressJoined: r.pressJoined, diagnose.WatchPair: r.watchPair,
		diagnose.HoldKey: r.holdAgain, diagnose.ReadLoops: r.readLoops,
	}[check.Action]
	if !ok {
		return diagnose.Looked{}, fmt.Errorf("%s: %w", check.Action, ErrPerson)
	}
	looked, err := look(check)
	if inert := makeInert(ctx, jig); err == nil {
		err = inert
	}
	if err != nil {
		return looked, fmt.Errorf("%s: %w", check.Action, err)
	}
	return looked, nil
}

// keyOf is the key that a check is about.
func (r *runner) keyOf(check diagnose.Check) (int, error) {
	k := r.plan.Product.Key(check.Key)
	switch {
	case k < 0:
		return 0, fmt.Errorf("%s has no key %q", r.plan.Product.Code, check.Key)
	case r.plan.Actuation != Mechanical:
		return 0, fmt.Errorf("this jig does not push keys; %w", ErrPerson)
	}
	return k, nil
}

func (r *runner) pressAgain(check diagnose.Check) (diagnose.Looked, error) {
	k, err := r.keyOf(check)
	if err != nil {
		return diagnose.Looked{}, err
	}
	var queue []*keyRoutine
	var routines []*fixture.Routine
	for range max(check.Times, 1) {
		q := r.plan.valueRoutine(k, r.known)
		queue, routines = append(queue, q), append(routines, q.r)
	}
	var readings []readings.Reading
	err = r.perform(routines, func(i int, d fixture.Done) error {
		mid := d.Resistance(queue[i].mid)
		closed, _, err := r.closedValue(queue[i], d)
		if r.isOpen(mid) || err != nil {
			closed = fixture.Resistance{Value: mid.Value, AtLeast: true}
		}
		readings = append(readings, readingOf(closed))
		return nil
	})
	return check.Presses(readings), err
}

// pressJoined reads the lines of a key on the range that knows them best, at rest and
// with the key held.
func (r *runner) pressJoined(check diagnose.Check) (diagnose.Looked, error) {
	k, err := r.keyOf(check)
	if err != nil {
		return diagnose.Looked{}, err
	}
	feed, ground := r.plan.ends(k)
	glance, err := r.between(feed, ground, r.plan.high)
	if err != nil {
		return diagnose.Looked{}, err
	}
	key, rng := r.plan.Product.Keys[k], r.plan.rangeFor(glance.Value, r.plan.high)
	routine := fixture.NewRoutine(r.plan.Jig)
	routine.Stage(fixture.Stage{Range: rng, Feed: []int{feed}, Ground: []int{ground}})
	rest := routine.Read(feed, ground, samplesRepeat)
	routine.Press(key.Actuator)
	routine.Wait(r.plan.Jig.TravelDown + max(key.Limits.Make, minQuiet))
	held := routine.Read(feed, ground, samplesRepeat)
	routine.Release(key.Actuator)
	routine.Wait(r.plan.Jig.TravelUp + settleAfterLate)
	done, err := r.one(routine)
	if err != nil {
		return diagnose.Looked{}, err
	}
	return check.Joined(readingOf(r.closeOrOpen(done.Resistance(rest))), readingOf(r.closeOrOpen(done.Resistance(held)))), nil
}

// closeOrOpen calls open whatever is no contact.
func (r *runner) closeOrOpen(reading fixture.Resistance) fixture.Resistance {
	reading.AtLeast = r.isOpen(reading)
	return reading
}

func (r *runner) between(feed, ground, rng int) (fixture.Resistance, error) {
	routine := fixture.NewRoutine(r.plan.Jig)
	routine.Stage(fixture.Stage{Range: rng, Feed: []int{feed}, Ground: []int{ground}})
	slot := routine.Read(feed, ground, samplesRest)
	done, err := r.one(routine)
	if err != nil {
		return fixture.Resistance{}, err
	}
	return done.Resistance(slot), nil
}

// watchPair watches two lines under voltage, the smallest current first.
func (r *runner) watchPair(check diagnose.Check) (diagnose.Looked, error) {
	if len(check.Lines) != 2 {
		return diagnose.Looked{}, fmt.Errorf("%d lines named, it takes two", len(check.Lines))
	}
	pair := elsewhere{key: -1, a: r.plan.Product.Line(check.Lines[0]), b: r.plan.Product.Line(check.Lines[1])}
	if pair.a < 0 || pair.b < 0 {
		return diagnose.Looked{}, fmt.Errorf("%s has no lines %s and %s", r.plan.Product.Code, check.Lines[0], check.Lines[1])
	}
	one := []elsewhere{pair}
	if err := r.readPairs(one, r.plan.high, samplesRest, nil); err != nil {
		return diagnose.Looked{}, err
	}
	pair = one[0]
	if err := r.watchLeak(&pair, r.plan.high, r.plan.restLimit, nil); err != nil {
		return diagnose.Looked{}, err
	}
	least, _ := r.plan.restLimit(pair.a, pair.b)
	return check.Watched(readingOf(pair.ohm), readings.Reading{Value: least}, trends[pair.trend]), nil
}

// heldFor is how long a key is watched for dropouts.
const heldFor = 2 * time.Second

func (r *runner) holdAgain(check diagnose.Check) (diagnose.Looked, error) {
	k, err := r.keyOf(check)
	if err != nil {
		return diagnose.Looked{}, err
	}
	e := &exercised{runner: r}
	var held fixture.Hold
	err = e.holdKey(k, heldFor, &held)
	return check.Held(held.Openings, held.Watched), err
}

// readLoops reads the contact of all channels under the tail and of two beyond.
func (r *runner) readLoops(check diagnose.Check) (diagnose.Looked, error) {
	if !r.plan.Jig.Loop {
		return diagnose.Looked{}, fmt.Errorf("this jig has one probe a line; %w", ErrPerson)
	}
	pins := len(r.plan.Product.Tail)
	var good []bool
	for c := range min(pins+beyond, r.plan.Jig.Channels) {
		routine := fixture.NewRoutine(r.plan.Jig)
		slot := routine.Loop(c, r.plan.low, samplesValue)
		done, err := r.one(routine)
		if err != nil {
			return diagnose.Looked{}, err
		}
		loop := done.Resistance(slot)
		unused := c < pins && r.plan.Product.Tail[c] == ""
		good = append(good, unused || !loop.AtLeast && loop.Value <= r.plan.seatLimit())
	}
	return check.Loops(good, pins), nil
}
