package sequence

import (
	"cmp"
	"slices"

	"padjig/fixture"
	"padjig/fixture/quantity"
)

// elsewhere is a pair of lines found connected, at rest or while a key was held.
type elsewhere struct {
	key  int
	a, b int
	ohm  fixture.Resistance // the smaller of both polarities

	forward, backward fixture.Resistance // a fed, and b fed
	trend             Trend
	gone              bool // it was not there any more when it was read again
}

// smaller takes the smaller of both polarities.
func (f *elsewhere) smaller() {
	f.ohm = f.forward
	if f.backward.Value < f.forward.Value {
		f.ohm = f.backward
	}
}

// manner is what is odd about a connection.
func (f *elsewhere) manner() []Said {
	switch {
	case f.gone:
		return []Said{said(GoneAgain)}
	case f.trend == Rising:
		return []Said{said(WhileRising)}
	case f.trend == Falling:
		return []Said{said(WhileFalling)}
	}
	return nil
}

// vanished reports whether what was read before is not there any more: more
// than twice the most that it can have been, so that no noise of a reading
// looks like it.
func vanished(before, now fixture.Resistance) bool {
	const sigmas, clearly = 4, 2
	return !before.AtLeast && now.Value > clearly*(before.Value+sigmas*before.U)
}

// pairLimit is the least resistance that two lines must have, and its guard band.
type pairLimit func(a, b int) (least quantity.Ohm, guard float64)

// closePairs finds the pairs of lines that are closer than their limit.
//
// What it may find can be a thread of silver that a larger current burns away,
// so it goes from the smallest current up, and keeps what it saw first: lines
// one by one against all others; the suspects among them pair by pair with all
// else floating, so that only the reference resistor feeds; those that still
// look close with all else guarded that cannot draw a larger current; and only
// then, what is close for sure, on a range that suits it.
func (r *runner) closePairs(known *nets, rng int, limit pairLimit) ([]elsewhere, error) {
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
	if err := r.readPairs(pairs, rng, samplesRest, nil); err != nil {
		return nil, err
	}
	guard := r.harmless(known, pairs)
	pairs = tooClose(pairs, limit)
	if r.plan.Jig.Guard {
		if err := r.readPairs(pairs, rng, samplesRest, guard); err != nil {
			return nil, err
		}
		pairs = tooClose(pairs, limit)
	}
	return r.sure(r.plan.direct(pairs), rng, limit, guard)
}

// suspects are the lines that are too close to all the others together.
func (r *runner) suspects(known *nets, rng int, limit pairLimit) ([]int, error) {
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

func strictest(lines []int, limit pairLimit) (least quantity.Ohm, guard float64) {
	for i, a := range lines {
		for _, b := range lines[:i] {
			l, g := limit(a, b)
			least, guard = max(least, l), max(guard, g)
		}
	}
	return least, guard
}

// guarding lists the lines to hold at the potential of the fed line while two
// lines are read.
type guarding func(fed, grounded int) []int

// harmless guards the lines that are far enough from the grounded one, by what
// was read with a small current, for the guard's own current into it to stay
// below that of watching a contact. A closer line floats and is read as one
// with the line it is joined to.
func (r *runner) harmless(known *nets, read []elsewhere) guarding {
	least := quantity.Ohm(float64(r.plan.Jig.Vref) / float64(r.plan.Jig.Current(r.plan.mid)))
	near := map[[2]int]bool{}
	for _, f := range read {
		if f.ohm.Value < least {
			near[ordered(f.a, f.b)] = true
		}
	}
	return func(fed, grounded int) []int {
		var out []int
		for _, l := range r.plan.except(fed, grounded) {
			if !near[ordered(l, grounded)] && !known.same(l, grounded) && !known.same(l, fed) {
				out = append(out, l)
			}
		}
		return out
	}
}

// readPairs fills in the resistance of each pair in both polarities. Without a
// guard all other lines float.
func (r *runner) readPairs(pairs []elsewhere, rng, samples int, guard guarding) error {
	batch := newBatch(r.plan)
	for _, p := range pairs {
		for _, s := range p.splits() {
			batch.read(s, s.guarded(guard), rng, samples)
		}
	}
	readings, err := batch.perform(r)
	if err != nil {
		return err
	}
	for i := range pairs {
		p := &pairs[i]
		p.forward, p.backward = readings[2*i], readings[2*i+1]
		p.smaller()
	}
	return nil
}

// splits reads a pair in both polarities.
func (f *elsewhere) splits() [2]split {
	s := split{feed: []int{f.a}, ground: []int{f.b}}
	return [2]split{s, s.reversed()}
}

// guarded lists the lines guarded while two single lines are read.
func (s split) guarded(guard guarding) []int {
	if guard == nil {
		return nil
	}
	return guard(s.feed[0], s.ground[0])
}

// tooClose keeps the pairs that do not hold their limit.
func tooClose(pairs []elsewhere, limit pairLimit) []elsewhere {
	return slices.DeleteFunc(slices.Clone(pairs), func(p elsewhere) bool {
		l, g := limit(p.a, p.b)
		return apart(p.ohm, l, g) == accepted
	})
}

// direct leaves out pairs that are close only by way of others: of lines that
// closer pairs join already, and of the leaks between the same two nets all
// but the smallest.
func (plan *Plan) direct(pairs []elsewhere) []elsewhere {
	closest := slices.SortedStableFunc(slices.Values(pairs), func(p, q elsewhere) int {
		return cmp.Compare(p.ohm.Value, q.ohm.Value)
	})
	joined := newNets(len(plan.Product.Lines))
	kept, leaks := map[[2]int]bool{}, map[[2]int]bool{}
	for _, p := range closest {
		between := ordered(joined.root(p.a), joined.root(p.b))
		if joined.same(p.a, p.b) || leaks[between] {
			continue
		}
		kept[ordered(p.a, p.b)] = true
		if p.ohm.Value < plan.closure {
			joined.join(p.a, p.b)
		} else {
			leaks[between] = true
		}
	}
	return slices.DeleteFunc(pairs, func(p elsewhere) bool { return !kept[ordered(p.a, p.b)] })
}

// sure reads again what seems too close, with more samples and on a range that
// suits it, and watches leaks for a while.
func (r *runner) sure(pairs []elsewhere, rng int, limit pairLimit, guard guarding) ([]elsewhere, error) {
	var out []elsewhere
	watched := 0
	for _, p := range pairs {
		l, g := limit(p.a, p.b)
		before, one := p, []elsewhere{p}
		if err := r.readPairs(one, r.plan.rangeFor(p.ohm.Value, rng), samplesRepeat, guard); err != nil {
			return nil, err
		}
		p = one[0]
		if vanished(before.ohm, p.ohm) && apart(before.ohm, l, g) == rejected {
			before.gone = true
			out = append(out, before)
			continue
		}
		if r.plan.Purpose != FirstPress && r.isOpen(p.ohm) && watched < mostWatched && !r.said(p) {
			watched++
			if err := r.watchLeak(&p, rng, limit, guard); err != nil {
				return nil, err
			}
		}
		if apart(p.ohm, l, g) != accepted {
			out = append(out, p)
		}
	}
	return out, nil
}

// rangeFor is the allowed range that reads r best, never above the given one.
func (plan *Plan) rangeFor(r quantity.Ohm, most int) int {
	allowed := slices.DeleteFunc(plan.allowedRanges(), func(i int) bool { return i > most })
	return plan.Jig.RangeFor(r, allowed)
}
