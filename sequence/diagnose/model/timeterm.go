package model

import (
	"math"
	"slices"

	"padjig/sequence/diagnose/readings"
	"padjig/sequence/nets"
)

// timeTerm is that of bounce, of coming and going, and of opening late. What is seen and
// not explained surprises, and so does what a fault would show and is not seen.
type timeTerm struct {
	unit *readings.Unit
	nets *nets.Nets
}

// mark is something that a key did in time, and how likely each effect makes it.
type mark struct {
	seen bool
	by   []made
}

type made struct {
	by     Effect
	likely float64
}

var (
	lateBy   = []made{{Slow, -0.1}, {BouncesBreak, -3}} // it may bounce for longer than it is watched
	teasesBy = []made{{Intermittent, -0.5}, {BouncesMake, -3}}
	makeBy   = []made{{BouncesMake, -0.1}, {Intermittent, -2}, {OtherContact, -4}}
	breakBy  = []made{{BouncesBreak, -0.1}, {Intermittent, -3}, {OtherContact, -5}, {Slow, -4}}
)

func (t timeTerm) of(k int, h Hypothesis) (l float64) {
	key := &t.unit.Keys[k]
	if !key.Marked() && !anyTime(h, k) {
		return 0
	}
	marks := [...]mark{
		{key.Late, lateBy}, {key.Teases || key.Unsteady, teasesBy}, {key.Make == readings.Long, makeBy}, {key.Break == readings.Long, breakBy},
	}
	if key.Late && key.Break == readings.NotSeen {
		marks[3] = mark{} // it was not open yet
	}
	if key.Late && t.besideSlow(k, h) {
		marks[0] = mark{}
		l--
	}
	for _, mk := range marks {
		if mk.seen || key.State == readings.Closed { // a key that does not close shows none
			l += mk.of(h, k)
		}
	}
	return l
}

// besideSlow reports whether a key shortly before k, between the same nets, opens late:
// then k seems to.
func (t timeTerm) besideSlow(k int, h Hypothesis) bool {
	between := func(k int) readings.Lines { return t.nets.Pair(t.unit.Product.Keys[k].A, t.unit.Product.Keys[k].B) }
	return h.slowBefore(k, func(other int) bool { return between(other) == between(k) })
}

func anyTime(h Hypothesis, k int) bool {
	return slices.ContainsFunc(h, func(f Fault) bool {
		switch f.Effect {
		case Slow, BouncesMake, BouncesBreak, Intermittent:
			return f.Key == k
		}
		return false
	})
}

// certain effects show in their mark every time.
const certain = -0.5

func (mk mark) of(h Hypothesis, k int) float64 {
	best := math.Inf(-1)
	for _, m := range mk.by {
		if h.has(m.by, k) {
			best = max(best, m.likely)
		}
	}
	switch {
	case mk.seen:
		return max(best, Surprise)
	case best > certain:
		return Surprise
	}
	return 0
}

// diodeTerm is that of a series diode's drop and of what it lets through backwards.
type diodeTerm struct{ unit *readings.Unit }

func (t diodeTerm) of(k int, h Hypothesis) (l float64) {
	if !t.unit.HasDiode(k) {
		return 0
	}
	key, limits := &t.unit.Keys[k], &t.unit.Product.Keys[k].Limits
	bridged, off := h.has(DiodeBridged, k), h.has(DiodeOff, k)
	if key.State == readings.Closed {
		backwards := key.Reverse != nil && !key.Reverse.AtLeast && !t.unit.Open(float64(key.Reverse.Value))
		none := key.Forward != nil && key.Forward.Value < limits.ForwardMin/2
		wrong := key.DiodeWrong(limits)
		switch {
		case bridged:
			l += unless(backwards && (key.Forward == nil || none))
		case off:
			l += unless(backwards || wrong || key.Ghost)
			if backwards && none {
				l -= 5 // a piece of wire rather than a bad junction
			}
		case h.has(Intermittent, k) && !backwards:
			l += when(wrong, -1, 0) // read while it came and went
		default:
			l += unless(!backwards && !wrong)
		}
	}
	if key.Ghost && !bridged && !off {
		// Its diode is good: by way of lines that are joined, or of a key held before that
		// opens late.
		l += when(slices.ContainsFunc(h, func(f Fault) bool { return f.Effect == Slow || f.Effect == Bridges }), -3, Surprise)
	}
	return l
}
