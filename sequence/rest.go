package sequence

import (
	"fmt"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

// rest reads every line against every other with nothing pressed.
func (r *runner) rest(step Step) []exchange {
	plan := r.plan
	limit, guard := plan.strictestRest()
	routine := fixture.NewRoutine(plan.Jig)
	slots := plan.groups(routine, r.known, plan.high, samplesRest)
	return []exchange{{routine, func(d fixture.Done) error {
		for _, s := range slots {
			if apart(d.Resistance(s), limit, guard) != accepted {
				return detour{func() error { return r.locateAtRest(step) }}
			}
		}
		return nil
	}}}
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
		if !r.isOpen(f.ohm) {
			r.known.join(f.a, f.b)
		}
		if r.said(f) {
			continue // the first reading at rest told already
		}
		r.run.Pairs = append(r.run.Pairs, Pair{Lines: r.names(f.a, f.b), Ohm: f.ohm})
		r.run.Findings = append(r.run.Findings, r.atRest(step, f))
	}
	return nil
}

// said reports whether this pair was found connected at rest before.
func (r *runner) said(f elsewhere) bool {
	names := r.names(f.a, f.b)
	for _, p := range r.run.Pairs {
		if p.While == "" && p.Lines == names {
			return true
		}
	}
	return false
}

// atRest names a pair that is connected with nothing pressed: a leak, a key
// that is closed, or a short.
func (r *runner) atRest(step Step, f elsewhere) Finding {
	limit, _ := r.plan.restLimit(f.a, f.b)
	finding := r.finding("leak", fmt.Sprintf("between %s and %s", r.line(f.a), r.line(f.b)), f.a, f.b)
	finding.measured(f.ohm, limit)
	if r.isOpen(f.ohm) {
		return finding
	}
	finding.What = "lines shorted"
	for k := range r.plan.Product.Keys {
		if !r.likeClosed(k, f) {
			continue
		}
		finding.What, finding.Key, finding.Place = "key closed at rest", r.label(k), r.place(k)
		if step.Name == "rest again" {
			finding.What = "key stays closed"
		}
		r.run.Keys[k].Verdict = KeyFail
		break
	}
	return finding
}

// likeClosed reports whether a connection at rest is like that of key k when
// pressed: between its lines, of a closed contact's resistance, and one way
// only where it has a diode. A row-column short of that resistance reads the
// same; looking at the key decides.
func (r *runner) likeClosed(k int, f elsewhere) bool {
	key := r.plan.Product.Keys[k]
	if ordered(key.A, key.B) != ordered(f.a, f.b) {
		return false
	}
	if key.Diode != product.NoDiode {
		from, _ := r.plan.endLines(k)
		forward, backward := f.forward, f.backward
		if from != f.a {
			forward, backward = backward, forward
		}
		return !r.isOpen(forward) && r.isOpen(backward)
	}
	return f.ohm.Value >= r.plan.Product.Nominal.Contact/closedLike && f.ohm.Value <= closedLike*key.Limits.ClosedMax
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
		p := &pairs[i]
		p.forward, p.backward = readings[2*i], readings[2*i+1]
		p.ohm = p.forward
		if p.backward.Value < p.forward.Value {
			p.ohm = p.backward
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
