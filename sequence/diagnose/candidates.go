package diagnose

import (
	"math"
	"slices"

	"padjig/sequence/product"
)

// candidate is a fault that may be there, with its prior and with what it explains by itself.
type candidate struct {
	fault
	prior float64 // natural logarithm
	gain  float64 // of the evidence, alone, without the prior
}

// singles are all faults of one place that the readings could show, placed in the
// product's circuit.
func (m *model) singles() []fault {
	var all []fault
	for k := range m.ev.Keys {
		all = append(all, m.keyFaults(k)...)
	}
	for l := range m.ev.Product.Lines {
		if len(m.ev.Product.Lines[l].Track) == 0 {
			continue
		}
		for _, after := range m.pad.segments(l) {
			all = append(all, fault{effect: parts, line: l, after: after}, fault{effect: adds, line: l, after: after})
		}
	}
	all = append(all, m.bridgeFaults()...)
	all = append(all, m.hiddenFaults()...)
	for i := range m.ev.Seats {
		all = append(all, fault{effect: badSeat, pin: m.ev.Seats[i].Pin})
	}
	for l := range m.ev.Product.Lines {
		if len(m.ev.Joins) > 0 {
			all = append(all, fault{effect: badJoin, line: l})
		}
	}
	for _, seen := range m.mappings() {
		all = append(all, fault{effect: moved, seen: seen})
	}
	if m.ev.Gone {
		all = append(all, fault{effect: vanishes})
	}
	return all
}

var ofEveryKey = []effect{noContact, otherContact, shaky, bouncesMake, bouncesBreak, slow}

func (m *model) keyFaults(k int) []fault {
	var all []fault
	for _, e := range ofEveryKey {
		all = append(all, fault{effect: e, key: k})
	}
	if m.hasDiode(k) {
		for _, e := range []effect{diodeTurned, diodeBridged, diodeOff} {
			all = append(all, fault{effect: e, key: k})
		}
	}
	for _, h := range m.ev.Held {
		if h.Key == k {
			all = append(all, fault{effect: secondPair, key: k, line: h.Lines[0], mate: h.Lines[1]})
		}
	}
	if m.ev.Keys[k].Stray {
		all = append(all, fault{effect: secondPair, key: k, line: -1, mate: -1})
	}
	return all
}

// bridgeFaults are a bridge between any two lines, and a key closed at rest wherever
// its lines are joined. Every bridge that is not listed is above its limit, so only
// those between lines or nets that are joined can explain anything.
func (m *model) bridgeFaults() []fault {
	var all []fault
	for a := range m.ev.Product.Lines {
		for b := range a {
			if f := (fault{effect: bridges, line: b, mate: a}); m.couldJoin(&f) {
				all = append(all, f)
			}
		}
	}
	for k, key := range m.ev.Product.Keys {
		for _, p := range m.ev.Rest {
			if ordered(key.A, key.B) == ordered(p.Lines[0], p.Lines[1]) {
				all = append(all, fault{effect: closed, key: k})
				break
			}
		}
	}
	return all
}

// hiddenFaults are bridges and closed keys behind a break: nothing shows of them at rest,
// but a key that is held on the broken line joins its other line to where they lead.
func (m *model) hiddenFaults() []fault {
	var all []fault
	add := func(f fault) {
		if !m.couldJoin(&f) && !slices.ContainsFunc(all, func(g fault) bool { return g.same(&f) }) {
			all = append(all, f)
		}
	}
	for _, h := range m.ev.Held {
		key := &m.ev.Product.Keys[h.Key]
		for i, x := range h.Lines {
			y := h.Lines[1-i]
			for _, way := range [][2]int{{key.A, key.B}, {key.B, key.A}} {
				if x != way[0] || y == way[1] {
					continue
				}
				add(fault{effect: bridges, line: min(way[1], y), mate: max(way[1], y), hidden: true})
				for k := range m.ev.Product.Keys {
					if at := &m.ev.Product.Keys[k]; ordered(at.A, at.B) == ordered(way[1], y) {
						add(fault{effect: closed, key: k, line: min(way[1], y), mate: max(way[1], y), hidden: true})
					}
				}
			}
		}
	}
	return all
}

func (m *model) couldJoin(f *fault) bool {
	for i := range m.ev.Rest {
		p := &m.ev.Rest[i]
		if ordered(f.line, f.mate) == ordered(p.Lines[0], p.Lines[1]) || m.between(p, f) {
			return true
		}
	}
	return false
}

// candidates scores all single faults and keeps those that explain something, best first.
func (m *model) candidates() []candidate {
	var all []candidate
	for _, f := range m.singles() {
		if c := m.scored(f); c.gain > worthTrying || f.hidden {
			all = append(all, c)
		}
	}
	all = append(all, m.wider(all)...)
	slices.SortStableFunc(all, func(a, b candidate) int { return compare(b.gain+b.prior, a.gain+a.prior) })
	return all
}

// worthTrying is the least that a fault must explain by itself to be tried with others.
const worthTrying = 1.0

// scored is a fault with its gain, its magnitude settled.
func (m *model) scored(f fault) candidate {
	h := []fault{f}
	if f.effect == several {
		h = []fault{{effect: several, cause: f.cause, members: slices.Clone(f.members)}}
	}
	g := m.gain(h)
	return candidate{fault: h[0], prior: m.prior(&f), gain: g}
}

// prior is the logarithm of how likely a fault is before anything is read: that of all
// kinds that have its effect.
func (m *model) prior(f *fault) float64 {
	switch f.effect {
	case moved:
		return math.Log(f.seen.rate)
	case several:
		// One cause for all of them, and then each by itself is no great surprise.
		return math.Log(kinds[f.cause].Prior) - perMember*float64(len(f.members))
	}
	sum := 0.0
	for _, n := range m.names(f) {
		sum += n.prior
	}
	return math.Log(max(sum, 1e-9))
}

// perMember is what each place of a cause of several places costs, in nats.
const perMember = 2

// wider are faults of several places that have one cause, made of the single ones that
// explain something: leaks of a liquid, a crease over tail tracks, a creeping spacer.
func (m *model) wider(single []candidate) []candidate {
	var all []candidate
	add := func(cause Kind, members []fault, least int) {
		if len(members) >= least {
			all = append(all, m.scored(fault{effect: several, cause: cause, members: members}))
		}
	}
	leaks := m.leaks()
	add(LiquidInside, leaks, 3)
	add(HumidityFilm, leaks, max(3, m.pairCount()*2/3))
	for _, run := range m.creases(single) {
		add(TailCreased, run, 2)
	}
	for _, region := range m.regions(single) {
		add(SpacerCreep, region, 3)
	}
	return slices.DeleteFunc(all, func(c candidate) bool { return c.gain <= worthTrying })
}

// leaks are a bridge for every pair at rest.
func (m *model) leaks() []fault {
	var all []fault
	for _, p := range m.ev.Rest {
		if p.Ohm.AtLeast || p.Ohm.Value >= 10e3 {
			all = append(all, fault{effect: bridges, line: min(p.Lines[0], p.Lines[1]), mate: max(p.Lines[0], p.Lines[1])})
		}
	}
	return all
}

// pairCount is how many pairs of lines there are.
func (m *model) pairCount() int {
	n := 0
	for _, l := range m.ev.Product.Lines {
		if l.Pin > 0 {
			n++
		}
	}
	return n * (n - 1) / 2
}

// creases are runs of adjacent tail pins whose lines are all broken or all cracked there.
func (m *model) creases(single []candidate) [][]fault {
	var runs [][]fault
	for _, e := range []effect{parts, adds} {
		at := map[int]fault{} // by pin
		for _, c := range single {
			if c.effect == e && c.after == -1 && c.gain > -surprise/2 {
				at[m.ev.Product.Lines[c.line].Pin] = c.fault
			}
		}
		var run []fault
		for pin := 1; pin <= len(m.ev.Product.Tail)+1; pin++ {
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
func (m *model) regions(single []candidate) [][]fault {
	var sick []fault
	for _, c := range single {
		switch c.effect {
		case closed, slow, shaky:
			known := slices.ContainsFunc(sick, func(f fault) bool { return f.key == c.key })
			if c.gain > -surprise/2 && !known {
				sick = append(sick, c.fault)
			}
		}
	}
	n := newNets(len(sick))
	for i := range sick {
		for j := range i {
			if m.adjacent(sick[i].key, sick[j].key) {
				n.join(i, j)
			}
		}
	}
	groups := map[int][]fault{}
	var order []int
	for i, f := range sick {
		root := n.root(i)
		if groups[root] == nil {
			order = append(order, root)
		}
		groups[root] = append(groups[root], f)
	}
	var out [][]fault
	for _, root := range order {
		out = append(out, groups[root])
	}
	return out
}

// adjacent reports whether two keys lie beside each other on the drawing.
func (m *model) adjacent(a, b int) bool {
	const pitch = 1.5
	x, y := m.ev.Product.Keys[a], m.ev.Product.Keys[b]
	return math.Abs(centreX(x)-centreX(y)) <= pitch && math.Abs(x.Y-y.Y) <= pitch
}

func centreX(k product.Key) float64 { return k.X + k.W/2 }

func compare(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// mostOf keeps the n of a list for which most counts.
func mostOf[T any](list []T, n int, count func(T) int) []T {
	sorted := slices.Clone(list)
	slices.SortStableFunc(sorted, func(a, b T) int { return count(b) - count(a) })
	return sorted[:min(n, len(sorted))]
}
