package diagnose

import (
	"math"
	"slices"

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
		return surprise
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
		{key.Late, map[effect]float64{slow: -0.1}},
		{key.Teases || key.Unsteady, map[effect]float64{shaky: -0.5, bouncesMake: -3}},
		{key.Make != nil && key.Make.Long, map[effect]float64{bouncesMake: -0.1, shaky: -2, otherContact: -4}},
		{key.Break != nil && key.Break.Long, map[effect]float64{bouncesBreak: -0.1, shaky: -3, otherContact: -5, slow: -4}},
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

// aloneTerm is that of nothing else having closed, where that is known.
func (m *model) aloneTerm(k int, h []fault) float64 {
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

func (m *model) heldSeen(k, a, b int) bool {
	for _, held := range m.ev.Held {
		if held.Key == k && ordered(held.Lines[0], held.Lines[1]) == ordered(a, b) {
			return true
		}
	}
	return false
}

// heldTerm is that of a connection found while a key was held.
func (m *model) heldTerm(i int, h []fault) float64 {
	held := m.ev.Held[i]
	at := ordered(held.Lines[0], held.Lines[1])
	if seen := moves(h); seen != nil && ordered(seen.at[held.Key][0], seen.at[held.Key][1]) == at {
		return 0
	}
	for j := range h {
		f := &h[j]
		if f.effect == secondPair && f.key == held.Key && ordered(f.line, f.mate) == at {
			return -math.Log(contactRange)
		}
		if f.effect == slow && m.stillClosed(f.key, held) {
			return -3
		}
	}
	if m.byRest(held) || m.behind(held, h) {
		return -1
	}
	return surprise
}

// behind reports whether faults that are hidden at rest, the key's own contact among
// them, connect the two lines: each broken line counts as two, its near and its far side.
func (m *model) behind(held Held, h []fault) bool {
	if !slices.ContainsFunc(h, func(f fault) bool { return f.hidden }) {
		return false
	}
	sides := m.sides(h)
	sides.join(m.side(held.Key, 0, h), m.side(held.Key, 1, h))
	return sides.same(2*held.Lines[0], 2*held.Lines[1])
}

// sides joins the near side 2l and the far side 2l+1 of each line l as h has them with
// nothing pressed.
func (m *model) sides(h []fault) *nets {
	n := newNets(2 * len(m.ev.Product.Lines))
	for l := range m.ev.Product.Lines {
		if breakOf(l, h) == nil {
			n.join(2*l, 2*l+1)
		}
	}
	for i := range h {
		switch f := &h[i]; f.effect {
		case closed:
			n.join(m.side(f.key, 0, h), m.side(f.key, 1, h))
		case bridges:
			n.join(startOf(f.line, h), startOf(f.mate, h))
		}
	}
	return n
}

// side is the side of its line A or B on which a key's tap lies.
func (m *model) side(k, end int, h []fault) int {
	key := &m.ev.Product.Keys[k]
	line := [2]int{key.A, key.B}[end]
	if b := breakOf(line, h); b != nil && b.after < m.pad.tap[k][end] {
		return 2*line + 1
	}
	return 2 * line
}

// startOf is the side on which the start of a line's track lies.
func startOf(line int, h []fault) int {
	if b := breakOf(line, h); b != nil && b.after < 0 {
		return 2*line + 1
	}
	return 2 * line
}

func breakOf(line int, h []fault) *fault {
	for i := range h {
		if h[i].effect == parts && h[i].line == line {
			return &h[i]
		}
	}
	return nil
}

// bare reports whether a hidden fault would show at rest all the same.
func (m *model) bare(f *fault, h []fault) bool {
	return f.hidden && m.ev.Rested == Done && m.sides(h).same(2*f.line, 2*f.mate)
}

// stillClosed reports whether key k, closed beside the one that is held, connects the two
// lines that were found connected.
func (m *model) stillClosed(k int, held Held) bool {
	n := restNets(m.ev)
	for _, closed := range []int{k, held.Key} {
		n.join(m.ev.Product.Keys[closed].A, m.ev.Product.Keys[closed].B)
	}
	return n.same(held.Lines[0], held.Lines[1])
}

// byRest reports whether what is joined at rest and the key's own contact connect two
// lines that were found connected while it was held.
func (m *model) byRest(held Held) bool {
	key := &m.ev.Product.Keys[held.Key]
	a, b := m.nets.root(held.Lines[0]), m.nets.root(held.Lines[1])
	return a == b || ordered(a, b) == ordered(m.nets.root(key.A), m.nets.root(key.B))
}

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

func (m *model) contactOf(k int, h []fault) quantity.Ohm {
	return quantity.Ohm(float64(m.ev.Keys[k].Closed.Value) - m.mean[k].path - m.extra(k, h))
}
