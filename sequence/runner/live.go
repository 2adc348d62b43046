package runner

import (
	"context"
	"fmt"
	"time"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/nets"
)

// Follow reads key k every so often until ctx ends or long is over, and hands
// each reading to tell, which must not wait. Where the jig pushes keys it holds
// the key down, but for the rests that its actuator needs, in which nothing is
// read; else a person presses it. The jig is inert when Follow returns.
func (plan *Plan) Follow(ctx context.Context, jig sequence.Jig, k int, every, long time.Duration, tell func(sequence.Live)) error {
	set := *plan.set
	if set.Actuation == sequence.Electrical { // that would read the jig's own resistor
		set.Actuation = sequence.Hand
	}
	f := following{routines: routines{set: &set}, line: line{ctx: ctx, jig: jig}, k: k}
	err := f.follow(every, long, tell)
	if inert := sequence.MakeInert(ctx, jig); err == nil {
		err = inert
	}
	if err != nil {
		return fmt.Errorf("watch key %s: %w", plan.Product.Keys[k].Label, err)
	}
	return nil
}

// following watches one key.
type following struct {
	routines
	line line
	k    int
	held time.Time // since when the key is held down
}

func (f *following) follow(every, long time.Duration, tell func(sequence.Live)) error {
	rests := func() {}
	if err := f.hold(rests); err != nil {
		return err
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	began := time.Now()
	rests = func() { tell(sequence.Live{At: time.Since(began), Rests: true}) }
	for time.Since(began) < long {
		if err := f.hold(rests); err != nil {
			return err
		}
		ohm, err := f.read()
		if err != nil {
			return err
		}
		tell(sequence.Live{At: time.Since(began), Ohm: ohm, Closed: !f.set.IsOpen(ohm)})
		select {
		case <-f.line.ctx.Done():
			return f.line.ctx.Err()
		case <-tick.C:
		}
	}
	return nil
}

// hold has the key down, if the jig pushes it: as long as its actuator stands, then up until it
// stands as long again, which rests hears of.
func (f *following) hold(rests func()) error {
	duty := f.set.Jig.Duty
	most := duty.Hold - heldBesides
	switch {
	case f.set.Actuation != sequence.Mechanical || !f.held.IsZero() && time.Since(f.held) < most:
		return nil
	case !f.held.IsZero():
		rests()
		rest := f.up(f.k)
		rest.Wait(duty.Rest(time.Since(f.held)+heldBesides, duty.Hold))
		if _, err := f.line.one(rest); err != nil {
			return err
		}
	}
	f.held = time.Now()
	_, err := f.line.one(f.down(f.k, 0))
	return err
}

// read reads the key as it is, on the range that knows a closed key best; one
// that is open on the range that knows that better.
func (f *following) read() (fixture.Resistance, error) {
	q := f.asItIs(f.k, nets.New(len(f.set.Product.Lines)), samplesValue)
	done, err := f.line.one(q.r)
	if err != nil {
		return fixture.Resistance{}, err
	}
	v := q.valueIn(done)
	if !f.set.IsOpen(v.Glance) && !v.NoLaw {
		return v.Closed, nil
	}
	v.Glance.AtLeast = v.Glance.AtLeast || v.NoLaw || q.hasDiode() // a diode's drop is no resistance
	return v.Glance, nil
}
