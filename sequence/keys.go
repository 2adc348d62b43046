package sequence

import (
	"errors"
	"math"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

// keys presses each key in turn; what needs a second look is looked at when
// the row of exchanges is over. A key whose lines are already connected is
// hidden behind that fault.
func (r *runner) keys(step Step) []exchange {
	var out []exchange
	for _, k := range step.Keys {
		key := r.plan.Product.Keys[k]
		if r.known.same(key.A, key.B) {
			continue
		}
		q := r.plan.keyRoutine(k, r.known)
		done := len(out) + 1
		out = append(out, exchange{q.r, func(d fixture.Done) error {
			err := r.keyDone(q, d)
			r.sayKey(step, done, len(step.Keys), q.key)
			return err
		}})
	}
	return out
}

// keyDone judges one key's exchange.
func (r *runner) keyDone(q *keyRoutine, d fixture.Done) error {
	r.stray(q, d)
	if r.plan.Actuation == Electrical { // which says nothing of the key
		r.judgeJoin(q, d)
		return nil
	}
	r.run.Keys[q.key].Verdict = KeyPass
	if r.isOpen(d.Resistance(q.mid)) {
		r.notClosed(q, d)
		return nil
	}
	r.noteReverse(q, d)
	err := r.judgeValue(q, d, false)
	r.judgeEdges(q, d)
	return err
}

// isOpen reports whether a glance shows no contact at all.
func (r *runner) isOpen(glance fixture.Resistance) bool {
	return glance.AtLeast || glance.Value >= r.plan.closure
}

// noteReverse keeps what was read against the diode: its leakage, as a
// resistance, and with the drop the other way its direction.
func (r *runner) noteReverse(q *keyRoutine, d fixture.Done) {
	if r.plan.Product.Keys[q.key].Diode != product.NoDiode {
		r.run.Keys[q.key].Reverse = new(d.Resistance(q.reverse))
	}
}

func (r *runner) notClosed(q *keyRoutine, d fixture.Done) {
	limits := r.plan.Product.Keys[q.key].Limits
	if made := d.Make(q.makes); made.Teases(limits.Make) {
		r.tease(q.key, made, said(OpenAgain))
		return
	}
	r.noteReverse(q, d)
	if r.plan.Product.Keys[q.key].Diode != product.NoDiode && !r.isOpen(d.Resistance(q.reverse)) {
		r.fail(q.key, "diode reversed", nothing)
		return
	}
	r.opened[q.key] = true
	r.fail(q.key, "key open", ohms(d.Resistance(q.mid), limits.ClosedMax))
}

// judgeValue judges the closed resistance, and the diode where there is one.
// A doubtful value is read again later, unless final.
func (r *runner) judgeValue(q *keyRoutine, d fixture.Done, final bool) error {
	key, limits := &r.run.Keys[q.key], r.plan.Product.Keys[q.key].Limits
	if r.plan.throughDiode(q.key) {
		r.diodeBlocks(q, d)
		return nil
	}
	closed, forward, err := r.closedValue(q, d)
	if err != nil {
		r.fail(q.key, "diode drop", nothing)
		return nil
	}
	if err := r.widen(q.key, &closed, r.besides(r.plan.Product.Keys[q.key])); err != nil {
		return err
	}
	key.Closed, key.Forward = &closed, forward
	if forward != nil {
		if r.judgeDiode(q, d, *forward) {
			return nil
		}
	}
	switch verdict := closedWithin(closed, limits.ClosedMin, limits.ClosedMax, limits.Guard); {
	case verdict == accepted:
	case verdict == doubtful && !final:
		r.doubtful = append(r.doubtful, q.key)
	case closed.Value < limits.ClosedMin+quantity.Ohm(2*float64(closed.U)*limits.Guard):
		r.fail(q.key, "key low", ohms(closed, limits.ClosedMin))
	default:
		r.fail(q.key, "key high", ohms(closed, limits.ClosedMax))
	}
	return nil
}

// closedValue takes the contact's resistance from the reading that knows it
// better, or from three currents where a diode is in series.
func (r *runner) closedValue(q *keyRoutine, d fixture.Done) (fixture.Resistance, *fixture.Voltage, error) {
	if r.plan.Product.Keys[q.key].Diode == product.NoDiode {
		return fixture.Surest(d.Resistance(q.low), d.Resistance(q.mid)), nil, nil
	}
	diode, err := d.SeriesDiode(q.diode)
	if errors.Is(err, fixture.ErrNoDiode) {
		return fixture.Resistance{}, nil, err
	}
	return diode.Contact, &diode.Forward, nil
}

// judgeDiode reports whether the diode itself is wrong.
func (r *runner) judgeDiode(q *keyRoutine, d fixture.Done, forward fixture.Voltage) bool {
	limits := r.plan.Product.Keys[q.key].Limits
	if !r.diodeBlocks(q, d) {
		return true
	}
	if forwardWithin(forward, limits.ForwardMin, limits.ForwardMax, limits.Guard) == accepted {
		return false
	}
	r.fail(q.key, "diode drop", volts(forward, limits.ForwardMax))
	return true
}

// diodeBlocks reports whether the diode keeps current out the other way, and
// says so where it does not.
func (r *runner) diodeBlocks(q *keyRoutine, d fixture.Done) bool {
	reverse := d.Resistance(q.reverse)
	if r.isOpen(reverse) {
		return true
	}
	r.fail(q.key, "diode shorted", ohms(reverse, r.plan.closure))
	return false
}

// judgeEdges judges bounce and release.
func (r *runner) judgeEdges(q *keyRoutine, d fixture.Done) {
	r.judgeMake(q.key, d.Make(q.makes))
	r.judgeBreak(q.key, d.Break(q.breaks), d.Resistance(q.open))
}

func (r *runner) judgeMake(k int, made fixture.Edge) {
	limits := r.plan.Product.Keys[k].Limits
	if made.Teases(limits.Make) {
		r.tease(k, made)
		return
	}
	if !made.Settled {
		if made.Bounce.Transitions > 0 {
			r.fail(k, "contact unsteady", nothing)
		}
		return
	}
	r.run.Keys[k].Make = &made.Bounce
	if bounceWithin(made.Bounce, limits.Make, r.plan.Jig.Tick, limits.Guard) != accepted {
		r.fail(k, "bounce on make", millis(made.Bounce.Time, limits.Make))
	}
}

// tease says that a key came and went on its way down, or while it was held.
func (r *runner) tease(k int, made fixture.Edge, manner ...Said) {
	r.fail(k, "teases", millis(made.Bounce.Time, r.plan.Product.Keys[k].Limits.Make))
	last := &r.run.Findings[len(r.run.Findings)-1]
	last.odd(manner...)
	if made.Settled {
		r.run.Keys[k].Make = &made.Bounce
	} else {
		last.Value, last.U = nil, nil // it never came to stay
	}
}

// judgeBreak judges how a key opened; open is read after it should have.
func (r *runner) judgeBreak(k int, broke fixture.Edge, open fixture.Resistance) {
	key, limits := &r.run.Keys[k], r.plan.Product.Keys[k].Limits
	if r.isOpen(open) && !broke.Settled && !r.plan.showsOpen(k, open) {
		return // a leak hides how it opened
	}
	if !r.isOpen(open) || !broke.Settled && key.Make != nil {
		r.fail(k, "releases late", ohms(open, r.plan.closure))
		r.late = append(r.late, k)
		return
	}
	if !broke.Ends { // it may go on bouncing under the next keys
		r.late = append(r.late, k)
	}
	key.Break = &broke.Bounce
	if bounceWithin(broke.Bounce, limits.Break, r.plan.Jig.Tick, limits.Guard) != accepted {
		r.fail(k, "bounce on break", millis(broke.Bounce.Time, limits.Break))
	}
}

// joinSigmas is how many standard uncertainties an electrical press may read
// from its resistor, besides the switches of two channels.
const joinSigmas = 3

func (r *runner) judgeJoin(q *keyRoutine, d fixture.Done) {
	got, join := d.Resistance(q.low), r.plan.Jig.Join
	r.run.Keys[q.key].Closed = &got
	band := joinSigmas*math.Hypot(float64(got.U), join.U*float64(join.Ohm)) + 2*float64(r.plan.Jig.Switch)
	if got.AtLeast || math.Abs(float64(got.Value-join.Ohm)) > band {
		r.fail(q.key, "join reads wrong", ohms(got, join.Ohm))
	}
}

// stray notes a key during whose press other lines touched.
func (r *runner) stray(q *keyRoutine, d fixture.Done) {
	for _, s := range q.groups {
		if reading := d.Resistance(s); !r.isOpen(reading) {
			r.strays = append(r.strays, stray{key: q.key, ohm: reading})
			return
		}
	}
}

// stray is a group reading that showed a second contact while a key was held.
type stray struct {
	key int
	ohm fixture.Resistance
}

// repeatDoubtful reads again, with more samples, what fell into the guard band.
func (r *runner) repeatDoubtful() error {
	if len(r.doubtful) == 0 {
		return nil
	}
	var queue []*keyRoutine
	var routines []*fixture.Routine
	for _, k := range r.doubtful {
		q := r.plan.valueRoutine(k, r.known)
		queue, routines = append(queue, q), append(routines, q.r)
	}
	return r.perform(routines, func(i int, d fixture.Done) error {
		if r.isOpen(d.Resistance(queue[i].mid)) {
			r.fail(queue[i].key, "contact unsteady", nothing)
			return nil
		}
		return r.judgeValue(queue[i], d, true)
	})
}
