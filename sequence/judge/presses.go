package judge

import (
	"slices"
	"strconv"
	"time"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/prove"
)

// Presses judges keys that are pressed many times, or held.
type Presses struct {
	set   *Setting
	sheet *Sheet
	All   []sequence.KeyExercise
}

// NewPresses has counted nothing yet.
func NewPresses(set *Setting, sheet *Sheet) *Presses { return &Presses{set: set, sheet: sheet} }

// Of is what was found of key k so far.
func (p *Presses) Of(k int) *sequence.KeyExercise {
	label := p.set.Product.Keys[k].Label
	i := slices.IndexFunc(p.All, func(x sequence.KeyExercise) bool { return x.Key == label })
	if i < 0 {
		i = len(p.All)
		p.All = append(p.All, sequence.KeyExercise{Key: label})
		if key := &p.sheet.Keys[k]; key.Verdict == sequence.KeyUntested {
			key.Verdict = sequence.KeyPass
		}
	}
	return &p.All[i]
}

// Pressed counts one press and reports whether it was good.
func (p *Presses) Pressed(k int, v Value, e Edges) bool {
	x, limits := p.Of(k), p.set.Product.Keys[k].Limits
	before := x.Bad()
	x.Presses++
	if p.set.IsOpen(v.Glance) || e.Make.Teases(limits.Make) || v.NoLaw || v.Closed.AtLeast {
		x.Misses++
	} else {
		if x.Least == nil || v.Closed.Value < x.Least.Value {
			x.Least = &v.Closed
		}
		if x.Most == nil || v.Closed.Value > x.Most.Value {
			x.Most = &v.Closed
		}
		p.sheet.Keys[k].Closed = x.Most
		x.Make, x.Break = max(x.Make, sequence.Milliseconds(e.Make.Bounce.Time)), max(x.Break, sequence.Milliseconds(e.Break.Bounce.Time))
		if v.Closed.Value > limits.ClosedMax+2*v.Closed.U {
			x.High++
		}
	}
	if !p.set.IsOpen(e.Open) {
		x.Sticks++
	}
	if x.Bad() == before {
		p.sheet.Shown.Note(prove.Closes, k)
		return true
	}
	p.bad(k, x)
	return false
}

// Missed counts a press that was to hold the key, and did not close it.
func (p *Presses) Missed(k int) {
	x := p.Of(k)
	x.Presses++
	x.Misses++
	p.bad(k, x)
}

// bad notes that the last press of a key was not good.
func (p *Presses) bad(k int, x *sequence.KeyExercise) {
	p.sheet.Keys[k].Verdict = sequence.KeyFail
	if x.First == 0 {
		x.First = x.Presses
	}
}

// Held judges a key that was held closed and watched.
func (p *Presses) Held(k int, h fixture.Hold, manner ...sequence.Said) {
	if h.Watched > 0 {
		p.sheet.Shown.Note(prove.Closes, k)
	}
	if h.Openings > 0 {
		p.sheet.fail(k, "drops out", only(inMillis(h.Longest), "ms"), append([]sequence.Said{openings(h)}, manner...)...)
	}
}

func openings(h fixture.Hold) sequence.Said {
	times, watched := strconv.Itoa(h.Openings), h.Watched.Round(time.Millisecond).String()
	switch {
	case h.AtLeast:
		return sequence.Fact(sequence.OpenedMore, times, watched)
	case h.Openings == 1:
		return sequence.Fact(sequence.OpenedOnce, watched)
	}
	return sequence.Fact(sequence.Opened, times, watched)
}

// Judge says what is wrong with each key after all its presses, those for holding it
// among them.
func (p *Presses) Judge() {
	for _, x := range p.All {
		p.judge(p.set.Product.Key(x.Key), x)
	}
}

func (p *Presses) judge(k int, x sequence.KeyExercise) {
	limits, key := p.set.Product.Keys[k].Limits, &p.sheet.Keys[k]
	makes, breaks := fixture.Bounce{Time: time.Duration(x.Make)}, fixture.Bounce{Time: time.Duration(x.Break)}
	if x.Most != nil {
		key.Closed, key.Make, key.Break = x.Most, &makes, &breaks
	}
	if x.Misses > 0 {
		p.often(k, "misses", x, x.Misses, part(x.Misses, x))
	}
	if x.High > 0 {
		p.often(k, "key high", x, x.High, ohms(*x.Most, limits.ClosedMax))
	}
	if x.Sticks > 0 {
		p.often(k, "sticks", x, x.Sticks, part(x.Sticks, x))
	}
	for _, edge := range []struct {
		what    string
		longest fixture.Bounce
		most    time.Duration
	}{{"bounce on make", makes, limits.Make}, {"bounce on break", breaks, limits.Break}} {
		if BounceWithin(edge.longest, edge.most, p.set.Jig.Tick, limits.Guard) == decide.Rejected {
			p.sheet.fail(k, edge.what, millis(edge.longest.Time, edge.most), sequence.Fact(sequence.LongestOf, strconv.Itoa(x.Presses)))
		}
	}
}

// often says what was wrong at some of the presses.
func (p *Presses) often(k int, what string, x sequence.KeyExercise, times int, a Amount) {
	p.sheet.fail(k, what, a, sequence.Fact(sequence.OfPresses, strconv.Itoa(times), strconv.Itoa(x.Presses), strconv.Itoa(x.First)))
}

// part is a part of the presses in percent.
func part(times int, x sequence.KeyExercise) Amount {
	return only(100*sequence.Number(times)/sequence.Number(x.Presses), "%")
}
