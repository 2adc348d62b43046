package control

import (
	"gonum.org/v1/gonum/mat"

	"padjig/results/stats/numeric"
)

// stepRunLength is the average run length of a rule of steps alone. Only the
// order of points matters to it, so they may as well be uniform on 0..1, and
// a shift changes nothing.
//
// Let f[k](u) be the mean further wait when the last point is u and ends a
// pattern of k points whose last step went up; one that went down is its
// mirror image, so f[k](1-u). The next point v either makes the pattern k+1
// long or begins one of two:
//
//	trend:   f[k](u) = 1 + integral u..1 f[k+1](v) + integral 0..u f[2](1-v)
//	zigzag:  f[k](u) = 1 + integral 0..u f[k+1](1-v) + integral u..1 f[2](v)
//
// with f[length] = 0 and, for one point, both ways leading to two. The f are
// smooth; they are held at the nodes of a Gauss rule and integrated as the
// polynomials through them, which makes this a linear system.
func stepRunLength(r Rule) float64 {
	s := stepSystem{length: 6, nodes: numeric.Legendre(stepNodes, 0, 1)}
	if r == FourteenZig {
		s.length, s.turning = 14, true
	}
	return s.solve()
}

// stepNodes gives 13 digits for both rules; 12 nodes give 11.
const stepNodes = 20

type stepSystem struct {
	length  int
	turning bool
	nodes   numeric.Quadrature
	above   [][]float64 // above[i][j]: integral from node i to 1 of the j-th polynomial
}

func (s stepSystem) solve() float64 {
	n := len(s.nodes.X)
	s.above = s.integralsAbove()
	size := (s.length - 1) * n
	a, b, f := mat.NewDense(size, size, nil), mat.NewVecDense(size, nil), mat.NewVecDense(size, nil)
	for k := 1; k < s.length; k++ {
		for i := range n {
			row := (k-1)*n + i
			a.Set(row, row, 1)
			b.SetVec(row, 1)
			for j := range n {
				s.leave(a, row, k, i, j)
			}
		}
	}
	if err := f.SolveVec(a, b); err != nil {
		panic("stats: the step equations are singular: " + err.Error()) // they hold no data
	}
	wait := 1.0
	for j, w := range s.nodes.Weight {
		wait += w * f.AtVec(j)
	}
	return wait
}

// leave subtracts what node j of the next functions adds to row (k, i).
func (s stepSystem) leave(a *mat.Dense, row, k, i, j int) {
	n := len(s.nodes.X)
	up, down := s.above[i][j], s.nodes.Weight[j]-s.above[i][j]
	upTo, downTo := k+1, 2
	if s.turning {
		upTo, downTo = 2, k+1
	}
	if k == 1 {
		upTo, downTo = 2, 2
	}
	for _, way := range []struct {
		to, node int
		share    float64
	}{{upTo, j, up}, {downTo, n - 1 - j, down}} {
		if way.to < s.length {
			col := (way.to-1)*n + way.node
			a.Set(row, col, a.At(row, col)-way.share)
		}
	}
}

func (s stepSystem) integralsAbove() [][]float64 {
	n := len(s.nodes.X)
	above := make([][]float64, n)
	for i, from := range s.nodes.X {
		above[i] = make([]float64, n)
		for j := range n {
			above[i][j] = numeric.Legendre(n, from, 1).Integrate(func(v float64) float64 { return s.polynomial(j, v) })
		}
	}
	return above
}

// polynomial is 1 at node j and 0 at the others.
func (s stepSystem) polynomial(j int, v float64) float64 {
	p := 1.0
	for m, x := range s.nodes.X {
		if m != j {
			p *= (v - x) / (s.nodes.X[j] - x)
		}
	}
	return p
}
