package model

import (
	"slices"

	"padjig/sequence/diagnose/readings"
)

// seatTerm is that of a channel's loop.
type seatTerm struct{ unit *readings.Unit }

func (t seatTerm) count() int { return len(t.unit.Seats) }

func (t seatTerm) of(i int, h Hypothesis) float64 {
	seat, l := t.unit.Seats[i], h.layout()
	if t.unit.Product.Tail[seat.Pin-1] == "" && l == nil {
		return 0
	}
	bad := slices.ContainsFunc(h, func(f Fault) bool { return f.Effect == BadSeat && f.Pin == seat.Pin })
	switch {
	case l == nil:
	case l.vacant[seat.Pin-1] && (seat.Good || seat.Loop.AtLeast):
		return 0
	case l.bare[seat.Pin-1] && !seat.Good && !seat.Loop.AtLeast:
		return Surprise // a bare channel is open, and this one is not
	case l.bare[seat.Pin-1]:
		bad = true
	}
	return unless(bad == !seat.Good)
}

// wholeTerm is that of what belongs to no single reading.
type wholeTerm struct {
	unit *readings.Unit
	sides
}

func (t wholeTerm) count() int { return 1 }

func (t wholeTerm) of(_ int, h Hypothesis) (l float64) {
	for i := range h {
		if f := &h[i]; f.Hidden && t.unit.Rested == readings.Done && t.joined(h).Same(2*f.Line, 2*f.Mate) {
			l += Surprise // it would show at rest all the same
		}
	}
	for _, k := range t.unit.Joins {
		l += t.join(k, h)
	}
	return l + t.gone(h)
}

// join is that of a key whose lines, joined by the jig, did not read its resistor: a
// channel at one of them is bad.
func (t wholeTerm) join(k int, h Hypothesis) float64 {
	key := &t.unit.Product.Keys[k]
	return unless(slices.ContainsFunc(h, func(f Fault) bool {
		return f.Effect == BadJoin && (f.Line == key.A || f.Line == key.B)
	}))
}

// gone is that of a connection that was gone when it was looked for.
func (t wholeTerm) gone(h Hypothesis) float64 {
	if !t.unit.Gone {
		return 0
	}
	for i := range h {
		switch h[i].Effect {
		case Vanishes:
			return -0.5
		case Slow: // the last keys may still be closed when the lines are read again
			return -1
		case BouncesBreak: // and bounce into what is read next
			return -3
		}
	}
	return Surprise
}
