package model

import (
	"math"

	"padjig/sequence/diagnose/readings"
	"padjig/sequence/nets"
)

// reader predicts what each key reads.
type reader struct {
	unit    *readings.Unit
	pad     *pad
	healthy []Healthy // by key
	wide    bool      // something concerns the whole panel
}

// expected is what a hypothesis lets a key read: its resistance, whether the size of its
// contact is free, and the standard deviation otherwise.
type expected struct {
	ohm, sd float64
	free    bool // the contact takes what value the reading has
	touched bool // a fault moves the reading away from a healthy one
	beside  bool // read beside a key that was still closed
	turned  bool // conducts only against its diode's direction
}

func (r *reader) expect(k int, h Hypothesis) expected {
	own := r.healthy[k]
	x := expected{ohm: own.Contact + own.Path, sd: own.sd, touched: r.wide}
	if added := r.pad.extra(k, h); added > 0 {
		x.ohm, x.touched = x.ohm+added, true
	}
	if h.has(OtherContact, k) {
		x.free, x.touched = true, true
	}
	if h.has(NoContact, k) {
		x.ohm, x.touched = math.Inf(1), true
	}
	x.turned = h.has(DiodeTurned, k)
	if l := h.layout(); l != nil {
		if !l.Own(r.unit.Product, k) {
			x.ohm, x.touched = math.Inf(1), true
		} else if l.turned[k] {
			x.turned = !x.turned
		}
	}
	// If a key that opens late and shares a line is still closed, the guards feed current
	// through it.
	x.beside = h.slowBefore(k, func(other int) bool { return r.share(k, other) })
	r.shunt(k, h, &x)
	return x
}

// share reports whether two keys have a line in common.
func (r *reader) share(j, k int) bool {
	a, b := &r.unit.Product.Keys[j], &r.unit.Product.Keys[k]
	return a.A == b.A || a.A == b.B || a.B == b.A || a.B == b.B
}

// shunt takes in the bridges that lead current past the contact.
func (r *reader) shunt(k int, h Hypothesis, x *expected) {
	key := &r.unit.Product.Keys[k]
	var past []branch
	for i := range h {
		if f := &h[i]; f.Effect == Bridges && f.Ohm > 0 {
			past = append(past, branch{point{f.Line, 0}, point{f.Mate, 0}, f.Ohm})
		}
	}
	if len(past) == 0 || math.IsInf(x.ohm, 1) || !r.leads(past, key.A, key.B) {
		return
	}
	a, b := r.pad.ends(k)
	contact := x.ohm - r.pad.path(k, h)
	x.ohm = r.pad.between(key.A, key.B, append(past, branch{a, b, max(contact, 0)}), h)
}

// leads reports whether bridges connect two lines.
func (r *reader) leads(past []branch, a, b int) bool {
	n := nets.New(len(r.unit.Product.Lines))
	for _, p := range past {
		n.Join(p.a.line, p.b.line)
	}
	return n.Same(a, b)
}

// more is what key k reads more than h lets it, and its standard deviation; ok is false
// where it has no value, or h lets it have any.
func (r *reader) more(k int, h Hypothesis) (ohm, sd float64, ok bool) {
	read := r.unit.Value(k)
	if read == nil || h.has(OtherContact, k) {
		return 0, 0, false
	}
	x := r.expect(k, h)
	return float64(read.Value) - x.ohm, math.Hypot(x.sd, float64(read.U)), !r.unit.Open(x.ohm)
}
