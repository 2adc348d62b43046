package diagnose

import "math"

// mark is something that a key did in time, and how likely each effect makes it.
type mark struct {
	seen bool
	by   map[effect]float64
}

// timeTerm is that of bounce, of coming and going, and of opening late. What is seen
// and not explained surprises, and so does what a fault would show and is not seen.
func (m *model) timeTerm(k int, h []fault) (l float64) {
	key := &m.ev.Keys[k]
	if !key.marked() && !anyTime(h, k) {
		return 0
	}
	marks := []mark{
		{key.Late, map[effect]float64{slow: -0.1, bouncesBreak: -3}}, // it may bounce for longer than it is watched
		{key.Teases || key.Unsteady, map[effect]float64{shaky: -0.5, bouncesMake: -3}},
		{key.Make != nil && key.Make.Long, map[effect]float64{bouncesMake: -0.1, shaky: -2, otherContact: -4}},
		{key.Break != nil && key.Break.Long, map[effect]float64{bouncesBreak: -0.1, shaky: -3, otherContact: -5, slow: -4}},
	}
	if key.Late && key.Break == nil {
		marks[3] = mark{} // it was not open yet
	}
	if marks[0].seen && m.slowBefore(k, h) {
		marks[0] = mark{}
		l--
	}
	for _, mk := range marks {
		if mk.seen || key.State == Closed { // a key that does not close shows none
			l += mk.term(h, k)
		}
	}
	return l
}

// slowBefore reports whether a key shortly before k, between the same nets, opens late:
// then k seems to.
func (m *model) slowBefore(k int, h []fault) bool {
	key := &m.ev.Product.Keys[k]
	at := ordered(m.nets.root(key.A), m.nets.root(key.B))
	for i := range h {
		if f := &h[i]; f.effect == slow && f.key < k && k-f.key <= shortly {
			other := &m.ev.Product.Keys[f.key]
			if ordered(m.nets.root(other.A), m.nets.root(other.B)) == at {
				return true
			}
		}
	}
	return false
}

// marked reports whether anything in time is not as it should be.
func (k *Key) marked() bool {
	return k.Late || k.Teases || k.Unsteady || k.Make != nil && k.Make.Long || k.Break != nil && k.Break.Long
}

func anyTime(h []fault, k int) bool {
	for i := range h {
		switch h[i].effect {
		case slow, bouncesMake, bouncesBreak, shaky:
			if h[i].key == k {
				return true
			}
		}
	}
	return false
}

// certain effects show in their mark every time.
const certain = -0.5

func (mk mark) term(h []fault, k int) float64 {
	best := math.Inf(-1)
	for e, l := range mk.by {
		if has(h, e, k) != nil {
			best = max(best, l)
		}
	}
	switch {
	case mk.seen:
		return max(best, surprise)
	case best > certain:
		return surprise
	}
	return 0
}

// diodeTerm is that of a series diode's drop and of what it lets through backwards.
func (m *model) diodeTerm(k int, h []fault) (l float64) {
	if !m.hasDiode(k) {
		return 0
	}
	key, limits := &m.ev.Keys[k], &m.ev.Product.Keys[k].Limits
	bridged, off := has(h, diodeBridged, k) != nil, has(h, diodeOff, k) != nil
	if key.State == Closed {
		backwards := key.Reverse != nil && !key.Reverse.AtLeast && !m.open(float64(key.Reverse.Value))
		none := key.Forward != nil && key.Forward.Value < limits.ForwardMin/2
		wrong := key.diodeWrong(limits)
		switch {
		case bridged:
			l += unless(backwards && (key.Forward == nil || none))
		case off:
			l += unless(backwards || wrong || key.Ghost)
			if backwards && none {
				l -= 5 // a piece of wire rather than a bad junction
			}
		case has(h, shaky, k) != nil && !backwards:
			l += when(wrong, -1, 0) // read while it came and went
		default:
			l += unless(!backwards && !wrong)
		}
	}
	if key.Ghost && !bridged && !off {
		l += m.ghostTerm(h)
	}
	return l
}

// ghostTerm is that of current backwards through a rectangle whose diode is good: by way
// of lines that are joined, or of a key held before that opens late.
func (m *model) ghostTerm(h []fault) float64 {
	for i := range h {
		if f := &h[i]; f.effect == slow || f.effect == bridges {
			return -3
		}
	}
	return surprise
}
