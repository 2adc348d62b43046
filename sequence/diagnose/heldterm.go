package diagnose

import (
	"math"
	"slices"
)

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
