package decide

import (
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
)

// Process is the distribution of the true values of all units made. Every
// continuous distribution of gonum's distuv with quantiles is one.
type Process interface {
	Prob(x float64) float64 // density
	CDF(x float64) float64
	Quantile(p float64) float64
}

// Risks are the global risks of a process: parts of all units made.
type Risks struct {
	Consumer float64 // R_C: bad and accepted
	Producer float64 // R_P: good and rejected
}

// Conforming is the part of a process inside the tolerance: what a buyer gets
// without any inspection.
func Conforming(p Process, tolerance Interval) float64 { return tolerance.share(p, 0) }

// Global gives the risks of a process whose units are held to the acceptance
// interval by one reading each, by integration over the true value y:
//
//	R_C = integral outside the tolerance of density(y) P(accepted | y)
//	R_P = integral inside the tolerance of density(y) (1 - P(accepted | y))
//
// (JCGM 106 9.5). They are right to about 1e-11 where the density is smooth.
func Global(p Process, tolerance, acceptance Interval, s Spread) Risks {
	accepted := func(y float64) float64 { return p.Prob(y) * acceptance.share(s, y) }
	rejected := func(y float64) float64 { return p.Prob(y) * (1 - acceptance.share(s, y)) }
	marks := bends(p, acceptance, s)
	return Risks{
		Consumer: integral(accepted, AtMost(tolerance.Low), marks) +
			integral(accepted, AtLeast(tolerance.High), marks),
		Producer: integral(rejected, tolerance, marks),
	}
}

// levels are the probabilities at whose quantiles a range of integration is
// cut. Beyond the outermost nothing is left that would show.
var levels = []float64{
	1e-15, 1e-10, 1e-6, 1e-3, 0.05, 0.25, 0.5, 0.75, 0.95, 1 - 1e-3, 1 - 1e-6, 1 - 1e-10, 1 - 1e-15,
}

// bends lists where an integrand turns: between the quantiles of the process,
// and about either acceptance limit by the quantiles of the spread. The first
// and the last are the ends of the process.
func bends(p Process, acceptance Interval, s Spread) []float64 {
	marks := make([]float64, 0, 3*len(levels))
	for _, level := range levels {
		marks = append(marks, p.Quantile(level))
	}
	first, last := marks[0], marks[len(marks)-1]
	for _, level := range levels {
		d := s.Quantile(level)
		for _, x := range []float64{acceptance.Low + d, acceptance.High + d} {
			if first < x && x < last {
				marks = append(marks, x)
			}
		}
	}
	slices.Sort(marks)
	return marks
}

// nodes and weights of Gauss and Legendre on -1 to 1, exact for polynomials of
// degree 63.
var nodes, weights = legendre(32)

func legendre(points int) (nodes, weights []float64) {
	nodes, weights = make([]float64, points), make([]float64, points)
	quad.Legendre{}.FixedLocations(nodes, weights, -1, 1)
	return nodes, weights
}

// integral is that of f over the part of i between the first and the last mark,
// piece by piece from mark to mark.
func integral(f func(float64) float64, i Interval, marks []float64) (sum float64) {
	for n := 1; n < len(marks); n++ {
		from, to := max(marks[n-1], i.Low), min(marks[n], i.High)
		if from < to {
			sum += piece(f, from, to)
		}
	}
	return sum
}

func piece(f func(float64) float64, from, to float64) (sum float64) {
	middle, half := (from+to)/2, (to-from)/2
	for n, x := range nodes {
		sum += weights[n] * f(middle+half*x)
	}
	return sum * half
}
