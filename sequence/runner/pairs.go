package runner

import (
	"padjig/fixture"
	"padjig/sequence/decide"
	"padjig/sequence/judge"
	"padjig/sequence/nets"
)

// finder finds which lines are connected.
type finder struct {
	routines
	line  line
	known *nets.Nets                                // lines that are known to be
	told  func(judge.Connection) bool               // whether a pair needs no watching, since it was found before
	keep  func([]judge.Split, []fixture.Resistance) // writes down what every pair read first; nil: nobody
}

// closePairs finds the pairs of lines that are closer than their limit.
//
// What it may find can be a thread of silver that a larger current burns away,
// so it goes from the smallest current up, and keeps what it saw first: lines
// one by one against all others; the suspects among them pair by pair with all
// else floating, so that only the reference resistor feeds; those that still
// look close with all else guarded that cannot draw a larger current; and only
// then, what is close for sure, on a range that suits it.
func (f finder) closePairs(rng int, limit judge.Limit) ([]judge.Connection, error) {
	suspects, err := f.suspects(rng, limit)
	if err != nil {
		return nil, err
	}
	var pairs []judge.Connection
	for i, a := range suspects {
		for _, b := range suspects[:i] {
			if !f.known.Same(a, b) {
				pairs = append(pairs, judge.Connection{A: b, B: a})
			}
		}
	}
	if err := f.read(pairs, rng, samplesRest, nil); err != nil {
		return nil, err
	}
	f.keepAll(pairs)
	guard := f.set.Harmless(f.known, pairs)
	pairs = judge.TooClose(pairs, limit)
	if f.set.Jig.Guard {
		if err := f.read(pairs, rng, samplesRest, guard); err != nil {
			return nil, err
		}
		pairs = judge.TooClose(pairs, limit)
	}
	return f.sure(f.set.Direct(pairs), rng, limit, guard)
}

// keepAll writes down what pairs read.
func (f finder) keepAll(pairs []judge.Connection) {
	if f.keep == nil {
		return
	}
	for _, p := range pairs {
		both := p.Splits()
		f.keep(both[:], []fixture.Resistance{p.Forward, p.Backward})
	}
}

// suspects are the lines that are too close to all the others together.
func (f finder) suspects(rng int, limit judge.Limit) ([]int, error) {
	batch := batch{routines: f.routines}
	var asked []int
	for _, l := range f.set.Lines {
		var rest []int
		for _, o := range f.set.Lines {
			if !f.known.Same(l, o) {
				rest = append(rest, o)
			}
		}
		if len(rest) > 0 {
			s := judge.Split{Feed: []int{l}, Ground: rest}
			batch.read(s, nil, rng, samplesGlance)
			batch.read(s.Reversed(), nil, rng, samplesGlance)
			asked = append(asked, l)
		}
	}
	readings, err := batch.perform(f.line)
	if err != nil {
		return nil, err
	}
	least, guard := f.set.Strictest(limit)
	far := func(r fixture.Resistance) bool { return judge.Apart(r, least, guard) == decide.Accepted }
	var out []int
	for i, l := range asked {
		// Both polarities, for a part that conducts one way only.
		if !far(readings[2*i]) || !far(readings[2*i+1]) {
			out = append(out, l)
		}
	}
	return out, nil
}

// read fills in the resistance of each pair in both polarities. Without a
// guard all other lines float.
func (f finder) read(pairs []judge.Connection, rng, samples int, guard judge.Guarding) error {
	batch := batch{routines: f.routines}
	for _, p := range pairs {
		for _, s := range p.Splits() {
			batch.read(s, guarded(s, guard), rng, samples)
		}
	}
	readings, err := batch.perform(f.line)
	if err != nil {
		return err
	}
	for i := range pairs {
		pairs[i] = pairs[i].Read(readings[2*i], readings[2*i+1])
	}
	return nil
}

// guarded lists the lines guarded while two single lines are read.
func guarded(s judge.Split, guard judge.Guarding) []int {
	if guard == nil {
		return nil
	}
	return guard(s.Feed[0], s.Ground[0])
}

// sure reads again what seems too close, with more samples and on a range that
// suits it, and watches leaks for a while.
func (f finder) sure(pairs []judge.Connection, rng int, limit judge.Limit, guard judge.Guarding) ([]judge.Connection, error) {
	var out []judge.Connection
	watched := 0
	for _, before := range pairs {
		one := []judge.Connection{before}
		if err := f.read(one, f.set.RangeFor(before.Ohm.Value, rng), samplesRepeat, guard); err != nil {
			return nil, err
		}
		now := one[0]
		if judge.Vanished(before.Ohm, now.Ohm) && before.Against(limit) == decide.Rejected {
			before.Gone = true
			out = append(out, before)
			continue
		}
		if !f.set.Gentle && f.set.IsOpen(now.Ohm) && watched < mostWatched && !f.told(now) {
			watched++
			var err error
			if now, err = f.dwell(now, rng, limit, guard); err != nil {
				return nil, err
			}
		}
		if now.Against(limit) != decide.Accepted {
			out = append(out, now)
		}
	}
	return out, nil
}
