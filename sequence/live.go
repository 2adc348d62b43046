package sequence

import (
	"context"
	"fmt"
	"time"

	"padjig/fixture"
	"padjig/sequence/product"
)

// Live is one reading of a key that is being watched.
type Live struct {
	At     time.Duration // since the key was to be held
	Ohm    fixture.Resistance
	Closed bool
}

// Follow reads key k every so often until ctx ends or long is over, and hands
// each reading to tell, which must not wait. Where the jig pushes keys it holds
// the key down all the while; else a person presses it. The jig is inert when
// Follow returns.
func (plan *Plan) Follow(ctx context.Context, jig Jig, k int, every, long time.Duration, tell func(Live)) error {
	own := *plan
	if own.Actuation == Electrical { // that would read the jig's own resistor
		own.Actuation = Hand
	}
	r := &runner{ctx: ctx, plan: &own, jig: jig, known: newNets(len(plan.Product.Lines))}
	err := r.follow(k, every, long, tell)
	if inert := makeInert(ctx, jig); err == nil {
		err = inert
	}
	if err != nil {
		return fmt.Errorf("watch key %s: %w", plan.Product.Keys[k].Label, err)
	}
	return nil
}

func (r *runner) follow(k int, every, long time.Duration, tell func(Live)) error {
	if r.plan.Actuation == Mechanical {
		down := fixture.NewRoutine(r.plan.Jig)
		down.Press(r.plan.Product.Keys[k].Actuator)
		down.Wait(r.plan.Jig.TravelDown)
		if _, err := r.one(down); err != nil {
			return err
		}
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for began := time.Now(); time.Since(began) < long; {
		ohm, err := r.readHeld(k)
		if err != nil {
			return err
		}
		tell(Live{At: time.Since(began), Ohm: ohm, Closed: !r.isOpen(ohm)})
		select {
		case <-r.ctx.Done():
			return r.ctx.Err()
		case <-tick.C:
		}
	}
	return nil
}

// readHeld reads a key as it is, on the range that knows a closed key best; one
// that is open on the range that knows that better.
func (r *runner) readHeld(k int) (fixture.Resistance, error) {
	q := &keyRoutine{key: k, r: fixture.NewRoutine(r.plan.Jig)}
	feed, ground := r.plan.ends(k)
	q.r.Stage(fixture.Stage{Range: r.plan.mid, Feed: []int{feed}, Ground: []int{ground}})
	q.mid = q.r.Read(feed, ground, samplesGlance)
	q.value(r.plan, r.known, samplesValue)
	done, err := r.one(q.r)
	if err != nil {
		return fixture.Resistance{}, err
	}
	mid := done.Resistance(q.mid)
	if !r.isOpen(mid) {
		closed, _, err := r.closedValue(q, done)
		if err == nil {
			return closed, nil
		}
		mid.AtLeast = true
	}
	mid.AtLeast = mid.AtLeast || r.plan.Product.Keys[k].Diode != product.NoDiode // its drop is no resistance
	return mid, nil
}
