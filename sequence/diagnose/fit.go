package diagnose

import (
	"math"
	"slices"
)

// fit settles the free magnitudes of h by the readings: those of bridges by the pairs at
// rest, those of cracks by the keys beyond them. Contacts need no settling, each having
// a reading of its own.
func (m *model) fit(h []fault, t touched) {
	for i := range h {
		switch f := &h[i]; f.effect {
		case parts:
			f.ohm = parted
		case bridges, closed:
			m.fitBridge(f)
		}
	}
	rounds := cracks(h)
	if rounds > 1 {
		rounds++ // cracks of crossing lines share a key and lean on each other
	}
	for range rounds {
		for i := range h {
			if h[i].effect == adds {
				m.fitCrack(i, h)
			}
		}
	}
}

func cracks(h []fault) (n int) {
	for i := range h {
		if h[i].effect == adds {
			n++
		}
	}
	return n
}

// fitBridge takes the ohms of a pair at rest, less the tails on the way.
func (m *model) fitBridge(f *fault) {
	for i := range m.ev.Rest {
		p := &m.ev.Rest[i]
		at := ordered(p.Lines[0], p.Lines[1])
		if f.effect == closed {
			if key := &m.ev.Product.Keys[f.key]; ordered(key.A, key.B) == at {
				f.ohm, f.u = max(float64(p.Ohm.Value)-m.mean[f.key].path, 0), float64(p.Ohm.U)
				return
			}
			continue
		}
		if ordered(f.line, f.mate) == at || m.between(p, f) {
			f.ohm, f.u = max(float64(p.Ohm.Value)-2*m.tails(f), 0), float64(p.Ohm.U)
			return
		}
	}
}

// fitCrack takes what the keys beyond a crack read more than they should: the median
// first, and then the weighted mean of those that agree with it.
func (m *model) fitCrack(i int, h []fault) {
	f := &h[i]
	f.ohm, f.u = 0, 0
	var more, sd []float64
	for _, k := range m.beyond(f) {
		key := &m.ev.Keys[k]
		if key.State != Closed || key.Closed == nil || key.Closed.AtLeast || has(h, otherContact, k) != nil {
			continue
		}
		if x := m.expect(k, h); !m.open(x.ohm) {
			more = append(more, float64(key.Closed.Value)-x.ohm)
			sd = append(sd, math.Hypot(x.sd, float64(key.Closed.U)))
		}
	}
	if len(more) == 0 {
		return
	}
	f.ohm, f.u = agreed(more, sd)
	f.ohm = max(f.ohm, 0)
}

// agreed is the weighted mean of the values that lie within four standard deviations of
// their median, and its standard uncertainty.
func agreed(v, sd []float64) (mean, u float64) {
	middle := median(v)
	var sum, weights float64
	for i := range v {
		if math.Abs(v[i]-middle) <= 4*sd[i] {
			w := 1 / (sd[i] * sd[i])
			sum, weights = sum+w*v[i], weights+w
		}
	}
	if weights == 0 {
		i := slices.Index(v, middle)
		return middle, sd[max(i, 0)]
	}
	return sum / weights, 1 / math.Sqrt(weights)
}

// freedom is what the free magnitudes of cracks cost: the part of the prior range that
// the readings leave (Laplace's approximation).
func (m *model) freedom(h []fault) (l float64) {
	for i := range h {
		f := &h[i]
		if f.effect != adds {
			continue
		}
		if f.ohm <= 0 {
			l -= 1 // a crack of nothing
			continue
		}
		// As wide as the whole range at the most.
		l += min(math.Log(math.Sqrt(2*math.Pi)*max(f.u, 1e-6)/f.ohm), 0) - math.Log(crackRange)
		if f.u == 0 {
			l -= 3
		}
	}
	return l
}
