package model

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"padjig/sequence/diagnose/polish"
	"padjig/sequence/nets"
)

// settler gives the free magnitudes of faults what the readings say: those of bridges by
// the pairs at rest, those of cracks by the keys beyond them. Contacts need no settling,
// each having a reading of its own.
type settler struct {
	*reader
	nets *nets.Nets // of lines connected at rest
}

func (s *settler) settle(h Hypothesis) {
	var cracks []int
	for i := range h {
		switch f := &h[i]; f.Effect {
		case OpenLine:
			f.Ohm = parted
		case Bridges, Closed:
			s.bridge(f)
		case Adds:
			cracks = append(cracks, i)
		}
	}
	switch len(cracks) {
	case 0:
	case 1:
		s.crack(&h[cracks[0]], h)
	default:
		s.cracks(cracks, h)
	}
}

// bridge takes the ohms of a pair at rest, less the tails on the way.
func (s *settler) bridge(f *Fault) {
	if f.Hidden {
		s.hidden(f)
		return
	}
	for i := range s.unit.Rest {
		p := &s.unit.Rest[i]
		if f.Effect == Closed {
			if key := &s.unit.Product.Keys[f.Key]; p.Lines.Are(key.A, key.B) {
				f.Ohm, f.U = max(float64(p.Ohm.Value)-s.healthy[f.Key].Path, 0), float64(p.Ohm.U)
				return
			}
			continue
		}
		if p.Lines.Are(f.Line, f.Mate) || s.nets.Span(p.Lines, f.Line, f.Mate) {
			f.Ohm, f.U = max(float64(p.Ohm.Value)-2*s.pad.tails(f), 0), float64(p.Ohm.U)
			return
		}
	}
}

// hidden takes what was read through a held key, less what the key itself reads.
func (s *settler) hidden(f *Fault) {
	for _, held := range s.unit.Held {
		key := &s.unit.Product.Keys[held.Key]
		on := func(l int) bool { return l == f.Line || l == f.Mate }
		if (on(key.A) || on(key.B)) && (on(held.Lines[0]) || on(held.Lines[1])) {
			own := &s.healthy[held.Key]
			f.Ohm = max(float64(held.Ohm.Value)-own.Contact-own.Path, own.Contact/100)
			f.U = math.Hypot(own.sd, float64(held.Ohm.U))
			return
		}
	}
}

// crack takes what the keys beyond a crack read more than they should: the median first,
// and then the weighted mean of those that agree with it.
func (s *settler) crack(f *Fault, h Hypothesis) {
	f.Ohm, f.U = 0, 0
	var more, sd []float64
	for _, k := range s.pad.beyond(f) {
		if m, u, ok := s.more(k, h); ok {
			more, sd = append(more, m), append(sd, u)
		}
	}
	if len(more) == 0 {
		return
	}
	f.Ohm, f.U = agreed(more, sd)
	f.Ohm = max(f.Ohm, 0)
}

// agreed is the weighted mean of the values that lie within four standard deviations of
// their median, and its standard uncertainty.
func agreed(v, sd []float64) (mean, u float64) {
	middle := polish.Median(v)
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

// cracks settles several at once, since one key may lie behind more than one: least
// squares, in which what does not follow counts less at each round.
func (s *settler) cracks(which []int, h Hypothesis) {
	for _, i := range which {
		h[i].Ohm, h[i].U = 0, 0
	}
	rows := s.behind(which, h)
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
			h[i].Ohm, h[i].U = max(size[j], 0), math.Sqrt(spread.At(j, j))
		}
	}
}

// equation is what a key reads more than it should, and the cracks it lies behind.
type equation struct {
	behind   []bool
	more, sd float64
}

func (s *settler) behind(which []int, h Hypothesis) []equation {
	var rows []equation
	for k := range s.unit.Keys {
		e := equation{behind: make([]bool, len(which))}
		for j, i := range which {
			e.behind[j] = s.pad.behind(k, &h[i])
		}
		if !slices.Contains(e.behind, true) {
			continue
		}
		var ok bool
		if e.more, e.sd, ok = s.more(k, h); ok {
			rows = append(rows, e)
		}
	}
	return rows
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

// sureCrack is how many of its standard uncertainties a crack must have to be one.
const sureCrack = 3

// freedom is what the free magnitudes of cracks cost: the part of the prior range that
// the readings leave (Laplace's approximation).
func freedom(h Hypothesis) (l float64) {
	for i := range h {
		f := &h[i]
		if f.Effect != Adds {
			continue
		}
		if f.Ohm <= 0 {
			l-- // a crack of nothing
			continue
		}
		// As wide as the whole range at the most.
		l += min(math.Log(math.Sqrt(2*math.Pi)*max(f.U, 1e-6)/f.Ohm), 0) - math.Log(crackRange)
		switch {
		case f.U == 0:
			l -= 3
		case f.Ohm < sureCrack*f.U:
			l += Surprise // not told from nothing
		}
	}
	return l
}
