package diagnose

import "slices"

// seatTerm is that of a channel's loop.
func (m *model) seatTerm(i int, h []fault) float64 {
	seat := m.ev.Seats[i]
	if m.ev.Product.Tail[seat.Pin-1] == "" && moves(h) == nil {
		return 0
	}
	bad := false
	for j := range h {
		bad = bad || h[j].effect == badSeat && h[j].pin == seat.Pin
	}
	if seen := moves(h); seen != nil && seen.vacant[seat.Pin-1] && (seat.Good || seat.Loop.AtLeast) {
		return 0
	}
	if seen := moves(h); seen != nil && seen.bare[seat.Pin-1] {
		if !seat.Good && !seat.Loop.AtLeast {
			return surprise // a bare channel is open, and this one is not
		}
		bad = true
	}
	return unless(bad == !seat.Good)
}

// otherTerm is that of what belongs to no single reading.
func (m *model) otherTerm(h []fault) (l float64) {
	for i := range h {
		if m.bare(&h[i], h) {
			l += surprise
		}
	}
	for _, k := range m.ev.Joins {
		l += unless(m.joinFails(k, h))
	}
	return l + m.goneTerm(h)
}

// joinFails reports whether a channel at one of a key's lines is bad.
func (m *model) joinFails(k int, h []fault) bool {
	key := &m.ev.Product.Keys[k]
	return slices.ContainsFunc(h, func(f fault) bool {
		return f.effect == badJoin && (f.line == key.A || f.line == key.B)
	})
}

// goneTerm is that of a connection that was gone when it was looked for.
func (m *model) goneTerm(h []fault) float64 {
	if !m.ev.Gone {
		return 0
	}
	for i := range h {
		switch h[i].effect {
		case vanishes:
			return -0.5
		case slow: // the last keys may still be closed when the lines are read again
			return -1
		case bouncesBreak: // and bounce into what is read next
			return -3
		}
	}
	return surprise
}
