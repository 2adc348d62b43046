package diagnose

import (
	"cmp"
	"math"
	"slices"

	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/nets"
	"padjig/sequence/product"
)

// candidate is a fault that may be there, with its prior and with what it explains by itself.
type candidate struct {
	model.Fault
	prior float64 // natural logarithm
	gain  float64 // of the evidence, alone, without the prior
}

// suspects are the faults that the readings of a unit could show.
type suspects struct {
	unit    *readings.Unit
	model   *model.Model
	origins origins
}

func suspectsOf(u *readings.Unit, m *model.Model) suspects { return suspects{u, m, origins{u, m}} }

// candidates scores all single faults and keeps those that explain something, best first.
func (s suspects) candidates() []candidate {
	var all []candidate
	for _, f := range s.singles() {
		if c := s.scored(f); c.gain > worthTrying || f.Hidden {
			all = append(all, c)
		}
	}
	all = append(all, s.wider(all)...)
	slices.SortStableFunc(all, func(a, b candidate) int { return cmp.Compare(b.gain+b.prior, a.gain+a.prior) })
	return all
}

// worthTrying is the least that a fault must explain by itself to be tried with others.
const worthTrying = 1.0

// scored is a fault with its gain, its magnitude settled.
func (s suspects) scored(f model.Fault) candidate {
	f.Members = slices.Clone(f.Members)
	h := model.Hypothesis{f}
	gain := s.model.Gain(h)
	return candidate{h[0], s.prior(&f), gain}
}

// prior is the logarithm of how likely a fault is before anything is read: that of all
// kinds that have its effect.
func (s suspects) prior(f *model.Fault) float64 {
	if f.IsSeveral() {
		// One cause for all of them, and then each by itself is no great surprise.
		return math.Log(kinds[only[f.Effect]].Prior) - perMember*float64(len(f.Members))
	}
	sum := 0.0
	for _, o := range s.origins.of(f) {
		sum += o.prior
	}
	if f.Effect == model.WiringSwap {
		return math.Log(sum)
	}
	return math.Log(max(sum, 1e-9))
}

// perMember is what each place of a cause of several places costs, in nats.
const perMember = 2

// singles are all faults of one place that the readings could show, placed in the
// product's circuit.
func (s suspects) singles() []model.Fault {
	var all []model.Fault
	for k := range s.unit.Keys {
		all = append(all, s.ofKey(k)...)
	}
	for l, line := range s.unit.Product.Lines {
		if len(line.Track) == 0 {
			continue
		}
		for _, after := range s.model.Breaks(l) {
			all = append(all, model.Fault{Effect: model.OpenLine, Line: l, After: after}, model.Fault{Effect: model.Adds, Line: l, After: after})
		}
	}
	all = append(all, s.bridges()...)
	all = append(all, s.hidden()...)
	for _, seat := range s.unit.Seats {
		all = append(all, model.Fault{Effect: model.BadSeat, Pin: seat.Pin})
	}
	for l := range s.unit.Product.Lines {
		if len(s.unit.Joins) > 0 {
			all = append(all, model.Fault{Effect: model.BadJoin, Line: l})
		}
	}
	for _, l := range layouts(s.unit) {
		all = append(all, model.Fault{Effect: model.WiringSwap, Layout: l})
	}
	if s.unit.Gone {
		all = append(all, model.Fault{Effect: model.Vanishes})
	}
	return all
}

var (
	ofEveryKey  = []model.Effect{model.NoContact, model.OtherContact, model.Intermittent, model.BouncesMake, model.BouncesBreak, model.Slow}
	ofDiodeKeys = []model.Effect{model.DiodeTurned, model.DiodeBridged, model.DiodeOff}
)

func (s suspects) ofKey(k int) []model.Fault {
	var all []model.Fault
	effects := ofEveryKey
	if s.unit.HasDiode(k) {
		effects = slices.Concat(ofEveryKey, ofDiodeKeys)
	}
	for _, e := range effects {
		all = append(all, model.Fault{Effect: e, Key: k})
	}
	for _, h := range s.unit.Held {
		if h.Key == k {
			all = append(all, model.Fault{Effect: model.SecondPair, Key: k, Line: h.Lines[0], Mate: h.Lines[1]})
		}
	}
	if s.unit.Keys[k].Stray {
		all = append(all, model.Fault{Effect: model.SecondPair, Key: k, Line: -1, Mate: -1})
	}
	return all
}

// bridges are one between any two lines, and a key closed at rest wherever its lines are
// joined. Every bridge that is not listed is above its limit, so only those between lines
// or nets that are joined can explain anything.
func (s suspects) bridges() []model.Fault {
	var all []model.Fault
	for a := range s.unit.Product.Lines {
		for b := range a {
			if s.joined(b, a) {
				all = append(all, model.Fault{Effect: model.Bridges, Line: b, Mate: a})
			}
		}
	}
	for k, key := range s.unit.Product.Keys {
		if slices.ContainsFunc(s.unit.Rest, func(p readings.Pair) bool { return p.Lines.Are(key.A, key.B) }) {
			all = append(all, model.Fault{Effect: model.Closed, Key: k})
		}
	}
	return all
}

// joined reports whether two lines, or the nets they lie in, are joined at rest.
func (s suspects) joined(a, b int) bool {
	return slices.ContainsFunc(s.unit.Rest, func(p readings.Pair) bool {
		return p.Lines.Are(a, b) || s.model.Nets().Span(p.Lines, a, b)
	})
}

// hidden are bridges and closed keys behind a break: nothing shows of them at rest, but a
// key that is held on the broken line joins its other line to where they lead.
func (s suspects) hidden() []model.Fault {
	var all []model.Fault
	add := func(f model.Fault) {
		f.Hidden = true
		if !slices.ContainsFunc(all, func(g model.Fault) bool { return g.Same(&f) }) {
			all = append(all, f)
		}
	}
	for _, h := range s.unit.Held {
		key := &s.unit.Product.Keys[h.Key]
		for i, x := range h.Lines {
			y := h.Lines[1-i]
			for _, way := range [][2]int{{key.A, key.B}, {key.B, key.A}} {
				if x != way[0] || y == way[1] || s.joined(way[1], y) {
					continue
				}
				a, b := min(way[1], y), max(way[1], y)
				add(model.Fault{Effect: model.Bridges, Line: a, Mate: b})
				for k, at := range s.unit.Product.Keys {
					if at.A == a && at.B == b {
						add(model.Fault{Effect: model.Closed, Key: k, Line: a, Mate: b})
					}
				}
			}
		}
	}
	return all
}

// wider are faults of several places that have one cause, made of the single ones that
// explain something: leaks of a liquid, a crease over tail tracks, a creeping spacer.
func (s suspects) wider(single []candidate) []candidate {
	var all []candidate
	add := func(effect model.Effect, members []model.Fault, least int) {
		if len(members) < least {
			return
		}
		if c := s.scored(model.Fault{Effect: effect, Members: members}); c.gain > worthTrying {
			all = append(all, c)
		}
	}
	leaks := s.leaks()
	add(model.Wet, leaks, 3)
	add(model.Filmed, leaks, max(3, pairsOf(s.unit.Product)*2/3))
	for _, run := range creases(s.unit.Product, single) {
		add(model.Creased, run, 2)
	}
	for _, region := range regions(s.unit.Product, single) {
		add(model.Creeping, region, 3)
	}
	return all
}

// leaks are a bridge for every pair at rest.
func (s suspects) leaks() []model.Fault {
	var all []model.Fault
	for _, p := range s.unit.Rest {
		if p.Ohm.AtLeast || p.Ohm.Value >= 10e3 {
			l := p.Lines.Ordered()
			all = append(all, model.Fault{Effect: model.Bridges, Line: l[0], Mate: l[1]})
		}
	}
	return all
}

// pairsOf is how many pairs of lines there are.
func pairsOf(p *product.Product) int {
	n := 0
	for _, l := range p.Lines {
		if l.Pin > 0 {
			n++
		}
	}
	return n * (n - 1) / 2
}

// telling is the gain from which a fault is rather there than not.
const telling = -model.Surprise / 2

// creases are runs of adjacent tail pins whose lines are all broken or all cracked there.
func creases(p *product.Product, single []candidate) [][]model.Fault {
	var runs [][]model.Fault
	for _, e := range []model.Effect{model.OpenLine, model.Adds} {
		at := map[int]model.Fault{} // by pin
		for _, c := range single {
			if c.Effect == e && c.After == -1 && c.gain > telling {
				at[p.Lines[c.Line].Pin] = c.Fault
			}
		}
		var run []model.Fault
		for pin := 1; pin <= len(p.Tail)+1; pin++ {
			f, ok := at[pin]
			if ok {
				run = append(run, f)
			} else if len(run) > 0 {
				runs, run = append(runs, run), nil
			}
		}
	}
	return runs
}

// regions are keys beside each other that all stick, tease or open late.
func regions(p *product.Product, single []candidate) [][]model.Fault {
	var sick []model.Fault
	for _, c := range single {
		switch c.Effect {
		case model.Closed, model.Slow, model.Intermittent:
			known := slices.ContainsFunc(sick, func(f model.Fault) bool { return f.Key == c.Key })
			if c.gain > telling && !known {
				sick = append(sick, c.Fault)
			}
		}
	}
	n := nets.New(len(sick))
	for i := range sick {
		for j := range i {
			if adjacent(p.Keys[sick[i].Key], p.Keys[sick[j].Key]) {
				n.Join(i, j)
			}
		}
	}
	var out [][]model.Fault
	place := map[int]int{}
	for i, f := range sick {
		root := n.Root(i)
		if _, known := place[root]; !known {
			place[root] = len(out)
			out = append(out, nil)
		}
		out[place[root]] = append(out[place[root]], f)
	}
	return out
}

// adjacent reports whether two keys lie beside each other on the drawing.
func adjacent(a, b product.Key) bool {
	const pitch = 1.5
	return math.Abs(a.CentreX()-b.CentreX()) <= pitch && math.Abs(a.Y-b.Y) <= pitch
}
