package sequence

import (
	"fmt"

	"padjig/fixture"
	"padjig/fixture/quantity"
)

// rest reads every line against every other with nothing pressed.
func (r *runner) rest(step Step) error {
	plan := r.plan
	limit, guard := plan.strictestRest()
	routine := fixture.NewRoutine(plan.Jig)
	slots := plan.groups(routine, r.known, plan.high, samplesRest)
	if len(slots) == 0 {
		return nil
	}
	done, err := r.one(routine)
	if err != nil {
		return err
	}
	for _, s := range slots {
		if apart(done.Resistance(s), limit, guard) != accepted {
			return r.locateAtRest(step)
		}
	}
	return nil
}

const samplesRest = 16

// locateAtRest finds which lines are too close, pair by pair among those that
// do not hold against all the rest.
func (r *runner) locateAtRest(step Step) error {
	found, err := r.closePairs(r.known, r.plan.high, func(a, b int) (quantity.Ohm, float64) { return r.plan.restLimit(a, b) })
	if err != nil {
		return err
	}
	for _, f := range found {
		if f.ohm.Value < r.plan.closure && !f.ohm.AtLeast {
			r.known.join(f.a, f.b)
		}
		r.run.Pairs = append(r.run.Pairs, Pair{Lines: r.names(f.a, f.b), Ohm: f.ohm})
		r.run.Findings = append(r.run.Findings, r.atRest(step, f))
	}
	return nil
}

// atRest names a pair that is connected with nothing pressed. A resistance
// like that of a closed contact, where a key is, is a closed key; a row-column
// short at that very place reads the same until the key is looked at.
func (r *runner) atRest(step Step, f elsewhere) Finding {
	plan := r.plan
	limit, _ := plan.restLimit(f.a, f.b)
	finding := r.finding("leak", fmt.Sprintf("between %s and %s", r.line(f.a), r.line(f.b)), f.a, f.b)
	finding.measured(f.ohm, limit)
	if f.ohm.Value >= plan.closure {
		return finding
	}
	finding.What = "lines shorted"
	for i, k := range plan.Product.Keys {
		joins := k.A == f.a && k.B == f.b || k.A == f.b && k.B == f.a
		if joins && f.ohm.Value >= plan.Product.Nominal.Contact/closedLike && f.ohm.Value <= closedLike*k.Limits.ClosedMax {
			finding.What, finding.Key = "key closed at rest", k.Label
			finding.Place = r.place(i)
			if step.Name == "rest again" {
				finding.What = "key stays closed"
			}
			r.run.Keys[i].Verdict = KeyFail
			return finding
		}
	}
	return finding
}

// closedLike is how many times a closed contact's limit, or less than how
// small a part of its nominal value, still looks like the contact.
const closedLike = 3

// closePairs reads lines one by one against all others, then the suspects
// among them pair by pair with everything else guarded. It returns the pairs
// that are closer than their limit.
func (r *runner) closePairs(known *nets, rng int, limit func(a, b int) (quantity.Ohm, float64)) ([]elsewhere, error) {
	suspects, err := r.suspects(known, rng, limit)
	if err != nil {
		return nil, err
	}
	var pairs []elsewhere
	for i, a := range suspects {
		for _, b := range suspects[:i] {
			if !known.same(a, b) {
				pairs = append(pairs, elsewhere{key: -1, a: b, b: a})
			}
		}
	}
	if err := r.readPairs(pairs, rng, samplesRest); err != nil {
		return nil, err
	}
	return r.tooClose(pairs, rng, limit)
}

// suspects are the lines that are too close to all the others together.
func (r *runner) suspects(known *nets, rng int, limit func(a, b int) (quantity.Ohm, float64)) ([]int, error) {
	lines := r.plan.lines
	batch := newBatch(r.plan)
	var asked []int
	for _, l := range lines {
		var rest []int
		for _, o := range lines {
			if !known.same(l, o) {
				rest = append(rest, o)
			}
		}
		if len(rest) > 0 {
			s := split{feed: []int{l}, ground: rest}
			batch.read(s, nil, rng, samplesGlance)
			batch.read(s.reversed(), nil, rng, samplesGlance)
			asked = append(asked, l)
		}
	}
	readings, err := batch.perform(r)
	if err != nil {
		return nil, err
	}
	least, guard := strictest(lines, limit)
	var out []int
	for i, l := range asked {
		// Both polarities, for a part that conducts one way only.
		if apart(readings[2*i], least, guard) != accepted || apart(readings[2*i+1], least, guard) != accepted {
			out = append(out, l)
		}
	}
	return out, nil
}

func strictest(lines []int, limit func(a, b int) (quantity.Ohm, float64)) (least quantity.Ohm, guard float64) {
	for i, a := range lines {
		for _, b := range lines[:i] {
			l, g := limit(a, b)
			least, guard = max(least, l), max(guard, g)
		}
	}
	return least, guard
}

// readPairs fills in the resistance of each pair, the smaller of both
// polarities where diodes are.
func (r *runner) readPairs(pairs []elsewhere, rng, samples int) error {
	batch := newBatch(r.plan)
	for _, p := range pairs {
		guard := r.plan.except(p.a, p.b)
		s := split{feed: []int{p.a}, ground: []int{p.b}}
		batch.read(s, guard, rng, samples)
		batch.read(s.reversed(), guard, rng, samples)
	}
	readings, err := batch.perform(r)
	if err != nil {
		return err
	}
	for i := range pairs {
		forward, backward := readings[2*i], readings[2*i+1]
		pairs[i].ohm = forward
		if backward.Value < forward.Value {
			pairs[i].ohm = backward
		}
	}
	return nil
}

// tooClose keeps the pairs below their limit; readings within the guard band
// are taken again with more samples, and low ones on a range that suits them.
func (r *runner) tooClose(pairs []elsewhere, rng int, limit func(a, b int) (quantity.Ohm, float64)) ([]elsewhere, error) {
	var again, out []elsewhere
	for _, p := range pairs {
		l, g := limit(p.a, p.b)
		if apart(p.ohm, l, g) != accepted {
			again = append(again, p)
		}
	}
	for _, p := range again {
		one := []elsewhere{p}
		if err := r.readPairs(one, r.plan.rangeFor(p.ohm.Value, rng), samplesRepeat); err != nil {
			return nil, err
		}
		if l, g := limit(p.a, p.b); apart(one[0].ohm, l, g) != accepted {
			out = append(out, one[0])
		}
	}
	return out, nil
}

// rangeFor is the allowed range whose reference lies nearest above a third of
// r, where the ratio is read best; never above the given one.
func (plan *Plan) rangeFor(r quantity.Ohm, most int) int {
	for _, i := range plan.allowedRanges() {
		if i <= most && plan.Jig.Ranges[i].Ohm >= r/3 {
			return i
		}
	}
	return most
}
