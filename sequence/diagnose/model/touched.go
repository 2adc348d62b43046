package model

import (
	"slices"

	"padjig/sequence/diagnose/readings"
)

// Touched says which readings a hypothesis can move.
type Touched struct {
	Keys []int
	All  [sorts]bool // sorts of which it can move any
}

// reach works out what faults can move.
type reach struct {
	*reader
	ghosts bool // a key let current through backwards
}

func reachOf(r *reader) reach {
	return reach{r, slices.ContainsFunc(r.unit.Keys, func(k readings.Key) bool { return k.Ghost })}
}

func (r *reach) touched(h Hypothesis) (t Touched) {
	if len(h) == 1 && h[0].IsKey() && h[0].Effect != Slow && !r.ghosts {
		t.Keys = []int{h[0].Key}
	} else {
		t.Keys = r.keys(h)
	}
	held, gone := len(r.unit.Held) > 0, r.unit.Gone
	add := func(sort Sort, is bool) { t.All[sort] = t.All[sort] || is }
	for i := range h {
		switch h[i].Effect {
		case Bridges, Closed:
			add(Rest, true)
			add(Held, held)
			add(Whole, h[i].Hidden)
		case OpenLine:
			add(Held, held)
			add(Whole, held)
		case Slow:
			add(Rest, true)
			add(Held, held)
			add(Whole, gone)
		case Vanishes, BouncesBreak:
			add(Whole, gone)
		case BadSeat:
			add(Seats, true)
		case SecondPair:
			add(Held, true)
		case BadJoin:
			add(Whole, true)
		case WiringSwap:
			add(Seats, true)
			add(Held, true)
		}
	}
	return t
}

func (r *reach) keys(h Hypothesis) (out []int) {
	marks := make([]bool, len(r.unit.Keys))
	for i := range h {
		r.mark(marks, &h[i])
	}
	for k, on := range marks {
		if on {
			out = append(out, k)
		}
	}
	return out
}

func (r *reach) mark(marks []bool, f *Fault) {
	if r.ghosts && (f.Effect == Slow || f.Effect == Bridges) {
		for k := range marks {
			marks[k] = marks[k] || r.unit.Keys[k].Ghost
		}
	}
	switch {
	case f.IsKey():
		marks[f.Key] = true
		for k := f.Key + 1; f.Effect == Slow && k <= f.Key+shortly && k < len(marks); k++ {
			marks[k] = marks[k] || r.share(k, f.Key) || r.unit.Keys[k].Late || r.unit.Keys[k].Stray
		}
	case f.IsSeries():
		for _, k := range r.pad.beyond(f) {
			marks[k] = true
		}
	case f.Effect == Bridges: // current of the keys between its lines could also flow through it
		for _, k := range r.unit.Product.Lines[f.Line].Track {
			key := &r.unit.Product.Keys[k]
			marks[k] = marks[k] || readings.Lines{f.Line, f.Mate}.Are(key.A, key.B)
		}
	case f.ofPanel():
		for k := range marks {
			marks[k] = true
		}
	}
}
