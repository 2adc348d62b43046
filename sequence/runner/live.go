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
// the key down all the while; else a person presses it. The jig is inert when
// Follow returns.
func (plan *Plan) Follow(ctx context.Context, jig sequence.Jig, k int, every, long time.Duration, tell func(sequence.Live)) error {
	set := *plan.set
	if set.Actuation == sequence.Electrical { // that would read the jig's own resistor
		set.Actuation = sequence.Hand
	}
	f := following{routines{&set}, line{ctx, jig}, k}
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
}

func (f following) follow(every, long time.Duration, tell func(sequence.Live)) error {
	if f.set.Actuation == sequence.Mechanical {
		if _, err := f.line.one(f.down(f.k, 0)); err != nil {
			return err
		}
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for began := time.Now(); time.Since(began) < long; {
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

// read reads the key as it is, on the range that knows a closed key best; one
// that is open on the range that knows that better.
func (f following) read() (fixture.Resistance, error) {
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
