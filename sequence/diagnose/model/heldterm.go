package model

import (
	"math"
	"slices"

	"padjig/sequence/diagnose/readings"
	"padjig/sequence/nets"
)

// heldTerm is that of a connection found while a key was held.
type heldTerm struct {
	unit *readings.Unit
	nets *nets.Nets
	sides
}

func (t heldTerm) count() int { return len(t.unit.Held) }

func (t heldTerm) of(i int, h Hypothesis) float64 {
	held := &t.unit.Held[i]
	if l := h.layout(); l != nil && l.at[held.Key].Are(held.Lines[0], held.Lines[1]) {
		return 0
	}
	for j := range h {
		f := &h[j]
		if f.Effect == SecondPair && f.Key == held.Key && held.Lines.Are(f.Line, f.Mate) {
			return -math.Log(contactRange)
		}
		if f.Effect == Slow && t.stillClosed(f.Key, held) {
			return -3
		}
	}
	if t.byRest(held) || t.behind(held, h) {
		return -1
	}
	return Surprise
}

// stillClosed reports whether key k, closed beside the one that is held, connects the two
// lines that were found connected.
func (t heldTerm) stillClosed(k int, held *readings.Held) bool {
	n := t.unit.Nets()
	for _, closed := range []int{k, held.Key} {
		n.Join(t.unit.Product.Keys[closed].A, t.unit.Product.Keys[closed].B)
	}
	return n.Same(held.Lines[0], held.Lines[1])
}

// byRest reports whether what is joined at rest and the key's own contact connect two
// lines that were found connected while it was held.
func (t heldTerm) byRest(held *readings.Held) bool {
	key := &t.unit.Product.Keys[held.Key]
	return t.nets.Same(held.Lines[0], held.Lines[1]) || t.nets.Pair(held.Lines[0], held.Lines[1]) == t.nets.Pair(key.A, key.B)
}

// behind reports whether faults that are hidden at rest, the key's own contact among
// them, connect the two lines.
func (t heldTerm) behind(held *readings.Held, h Hypothesis) bool {
	if !slices.ContainsFunc(h, func(f Fault) bool { return f.Hidden }) {
		return false
	}
	n := t.joined(h)
	t.close(n, held.Key, h)
	return n.Same(2*held.Lines[0], 2*held.Lines[1])
}

// sides takes each broken line for two: the near side 2l and the far side 2l+1 of line l.
type sides struct{ pad *pad }

// joined are the sides as h has them with nothing pressed.
func (s sides) joined(h Hypothesis) *nets.Nets {
	lines := len(s.pad.product.Lines)
	n := nets.New(2 * lines)
	for l := range lines {
		if h.breakOf(l) == nil {
			n.Join(2*l, 2*l+1)
		}
	}
	for i := range h {
		switch f := &h[i]; f.Effect {
		case Closed:
			s.close(n, f.Key, h)
		case Bridges:
			n.Join(s.at(point{f.Line, 0}, h), s.at(point{f.Mate, 0}, h))
		}
	}
	return n
}

// close joins the sides on which a key's taps lie.
func (s sides) close(n *nets.Nets, k int, h Hypothesis) {
	a, b := s.pad.ends(k)
	n.Join(s.at(a, h), s.at(b, h))
}

// at is the side on which a place lies.
func (s sides) at(p point, h Hypothesis) int {
	if b := h.breakOf(p.line); b != nil && b.After < p.at {
		return 2*p.line + 1
	}
	return 2 * p.line
}
