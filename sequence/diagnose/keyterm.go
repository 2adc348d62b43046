package diagnose

import (
	"math"

	"padjig/fixture/quantity"
)

// keyTerm is the likelihood of everything read at key k.
func (m *model) keyTerm(k int, h []fault) float64 {
	key := &m.ev.Keys[k]
	if key.State == NotTested {
		return 0
	}
	x := m.expect(k, h)
	return max(m.stateTerm(k, h, x), capped) + m.timeTerm(k, h) + m.diodeTerm(k, h) + m.aloneTerm(k, h)
}

// stateTerm is that of whether, which way and with what resistance the key closed.
func (m *model) stateTerm(k int, h []fault, x expected) float64 {
	key := &m.ev.Keys[k]
	switch key.State {
	case Open:
		return m.openTerm(k, h, x)
	case Reversed:
		return unless(x.turned && !m.open(x.ohm))
	case NoLaw:
		switch {
		case has(h, diodeOff, k) != nil, has(h, shaky, k) != nil:
			return -1
		case has(h, diodeBridged, k) != nil:
			return -3
		}
		return surprise
	}
	if x.turned || m.open(x.ohm) {
		return capped // no better than the worst value
	}
	if key.Closed == nil { // closed, and came and went before it could be read
		return 0
	}
	l := m.valueTerm(k, *key.Closed, x)
	if has(h, shaky, k) != nil && (m.hasDiode(k) || key.Closed.U > unsteadyPart*key.Closed.Value) {
		return max(l, -math.Log(contactRange)) // read while it came and went
	}
	return l
}

func (m *model) openTerm(k int, h []fault, x expected) float64 {
	switch {
	case m.open(x.ohm):
		return 0
	case x.turned:
		return unless(m.ev.Keys[k].Reverse == nil) // it would have conducted backwards
	case has(h, shaky, k) != nil:
		return -1.5
	}
	return surprise
}

// valueTerm is that of a closed resistance. A value outside the limits is a surprise
// where no fault moves it, however the unit's contacts spread.
func (m *model) valueTerm(k int, r Reading, x expected) float64 {
	value := max(float64(r.Value), 1e-3)
	switch {
	case r.AtLeast:
		return unless(x.free || x.ohm >= value)
	case x.free:
		return -math.Log(contactRange)
	}
	sd := math.Hypot(x.sd, float64(r.U))
	l := student((value-x.ohm)/sd) + math.Log(value/sd)
	if !x.touched && !inside(r, m.ev.Product.Keys[k].Limits) {
		l += surprise
	}
	if x.beside {
		// The keys behind one that opens late share its shift: only one of them pays for it.
		wide := math.Hypot(sd, slowShift)
		z := (value - x.ohm) / wide
		pays := math.Log(wide/sd) / shortly
		l = max(l, student(z)+math.Log(value/sd)-pays+when(math.Abs(z) < 3, 0, surprise))
	}
	return l
}

// unsteadyPart is the relative standard uncertainty from which a reading shows that the
// contact moved while it was taken.
const unsteadyPart = 0.005

func unless(explained bool) float64 {
	if explained {
		return 0
	}
	return surprise
}

// aloneTerm is that of nothing else having closed, where that is known.
func (m *model) aloneTerm(k int, h []fault) float64 {
	if m.ev.Keys[k].Stray {
		return m.strayTerm(k, h)
	}
	if !m.ev.Keys[k].Alone {
		return 0
	}
	expects := func(a, b int) float64 {
		if a < 0 || m.nets.same(a, b) || m.heldSeen(k, a, b) {
			return 0
		}
		return surprise
	}
	l := 0.0
	if seen := moves(h); seen != nil && !seen.own(m.ev.Product, k) {
		if has(h, noContact, k) == nil {
			l += expects(seen.at[k][0], seen.at[k][1])
		}
	}
	if f := has(h, secondPair, k); f != nil {
		l += expects(f.line, f.mate)
	}
	return l
}

// strayTerm is that of something else having closed while key k was held, nobody knows
// what: it asks for a fault that closes something else then.
func (m *model) strayTerm(k int, h []fault) float64 {
	if seen := moves(h); seen != nil && !seen.own(m.ev.Product, k) && seen.at[k][0] >= 0 {
		return unless(has(h, noContact, k) == nil)
	}
	if has(h, secondPair, k) != nil {
		return 0
	}
	for i := range h {
		if f := &h[i]; f.effect == slow && f.key < k && k-f.key <= shortly {
			return -1 // it was still closed beside this one
		}
	}
	return surprise
}

func (m *model) heldSeen(k, a, b int) bool {
	for _, held := range m.ev.Held {
		if held.Key == k && ordered(held.Lines[0], held.Lines[1]) == ordered(a, b) {
			return true
		}
	}
	return false
}

func (m *model) contactOf(k int, h []fault) quantity.Ohm {
	return quantity.Ohm(float64(m.ev.Keys[k].Closed.Value) - m.mean[k].path - m.extra(k, h))
}
