package diagnose

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// fit settles the free magnitudes of h by the readings: those of bridges by the pairs at
// rest, those of cracks by the keys beyond them. Contacts need no settling, each having
// a reading of its own.
func (m *model) fit(h []fault) {
	for i := range h {
		switch f := &h[i]; f.effect {
		case parts:
			f.ohm = parted
		case bridges, closed:
			m.fitBridge(f)
		}
	}
	switch n := cracks(h); {
	case n == 1:
		m.fitCrack(slices.IndexFunc(h, func(f fault) bool { return f.effect == adds }), h)
	case n > 1:
		m.fitCracks(h)
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
	if f.hidden {
		m.fitHidden(f)
		return
	}
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

// fitHidden takes what was read through a held key, less what the key itself reads.
func (m *model) fitHidden(f *fault) {
	for _, held := range m.ev.Held {
		key := &m.ev.Product.Keys[held.Key]
		on := func(l int) bool { return l == f.line || l == f.mate }
		if (on(key.A) || on(key.B)) && (on(held.Lines[0]) || on(held.Lines[1])) {
			own := &m.mean[held.Key]
			f.ohm = max(float64(held.Ohm.Value)-own.contact-own.path, own.contact/100)
			f.u = math.Hypot(own.sd, float64(held.Ohm.U))
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

// fitCracks settles several cracks at once, since one key may lie behind more than one:
// least squares, in which what does not follow counts less at each round.
func (m *model) fitCracks(h []fault) {
	var which []int
	for i := range h {
		if h[i].effect == adds {
			h[i].ohm, h[i].u = 0, 0
			which = append(which, i)
		}
	}
	rows := m.behindCracks(h, which)
	size := make([]float64, len(which))
	const rounds = 8
	for round := range rounds {
		normal, right := mat.NewSymDense(len(which), nil), mat.NewVecDense(len(which), nil)
		for _, r := range rows {
			r.add(normal, right, size, round > 0)
		}
		var c mat.Cholesky
		var x mat.VecDense
		if !c.Factorize(normal) || c.SolveVecTo(&x, right) != nil {
			break // two cracks before the same keys
		}
		var spread mat.SymDense
		if c.InverseTo(&spread) != nil {
			break
		}
		for j, i := range which {
			size[j] = x.AtVec(j)
			h[i].ohm, h[i].u = max(size[j], 0), math.Sqrt(spread.At(j, j))
		}
	}
}

// equation is what a key reads more than it should, and the cracks it lies behind.
type equation struct {
	behind   []bool
	more, sd float64
}

func (m *model) behindCracks(h []fault, which []int) []equation {
	var rows []equation
	for k := range m.ev.Keys {
		key := &m.ev.Keys[k]
		if key.State != Closed || key.Closed == nil || key.Closed.AtLeast || has(h, otherContact, k) != nil {
			continue
		}
		e := equation{behind: make([]bool, len(which))}
		any := false
		for j, i := range which {
			e.behind[j] = m.isBeyond(k, &h[i])
			any = any || e.behind[j]
		}
		if !any {
			continue
		}
		if x := m.expect(k, h); !m.open(x.ohm) {
			e.more, e.sd = float64(key.Closed.Value)-x.ohm, math.Hypot(x.sd, float64(key.Closed.U))
			rows = append(rows, e)
		}
	}
	return rows
}

// isBeyond reports whether key k lies behind a fault of one of its lines.
func (m *model) isBeyond(k int, f *fault) bool {
	key := &m.ev.Product.Keys[k]
	return f.line == key.A && f.after < m.pad.tap[k][0] || f.line == key.B && f.after < m.pad.tap[k][1]
}

// add puts the equation into the normal equations, weighed by how well the sizes found so
// far explain it.
func (e *equation) add(normal *mat.SymDense, right *mat.VecDense, size []float64, weigh bool) {
	left := e.more
	for j, on := range e.behind {
		if on {
			left -= size[j]
		}
	}
	w := 1 / (e.sd * e.sd)
	if z := left / e.sd; weigh {
		w /= 1 + z*z/4
	}
	for j, on := range e.behind {
		if !on {
			continue
		}
		right.SetVec(j, right.AtVec(j)+w*e.more)
		for i := range j + 1 {
			if e.behind[i] {
				normal.SetSym(i, j, normal.At(i, j)+w)
			}
		}
	}
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

// sureCrack is how many of its standard uncertainties a crack must have to be one.
const sureCrack = 3

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
		switch {
		case f.u == 0:
			l -= 3
		case f.ohm < sureCrack*f.u:
			l += surprise // not told from nothing
		}
	}
	return l
}
