package control

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats/numeric"
)

// Constants are the factors that turn ranges and standard deviations of small
// subgroups from a normal population into its sigma and into chart limits.
// They are computed for any n, not looked up. Names as in ISO 7870-2.
type Constants struct {
	N              int
	C4, D2, D3     float64 // mean of s, mean and sd of the range, for sigma 1
	A, A2, A3      float64 // mean +- A sigma, A2 Rbar, A3 sbar
	B3, B4, B5, B6 float64 // s chart: B3, B4 times sbar; B5, B6 times sigma
	R1, R2, R3, R4 float64 // range chart, "D1 to D4" in tables: R1, R2 times sigma; R3, R4 times Rbar
}

// ChartConstants computes the constants for subgroups of n. Errors: n < 2.
func ChartConstants(n int) (Constants, error) {
	if n < 2 {
		return Constants{}, fmt.Errorf("a subgroup of %d has no spread: at least 2 values are needed", n)
	}
	if n < len(constantsOf) {
		return constantsOf[n](), nil
	}
	return computeConstants(n), nil
}

// constantsOf has those of all usual sizes: a chart of many subgroups asks for the same.
var constantsOf = onceEach(64, computeConstants)

func computeConstants(n int) Constants {
	root := math.Sqrt(float64(n))
	c4 := meanOfSD(n)
	c5 := math.Sqrt(1 - c4*c4)
	d2, d3 := RangeMoments(n)
	return Constants{
		N: n, C4: c4, D2: d2, D3: d3,
		A: 3 / root, A2: 3 / (d2 * root), A3: 3 / (c4 * root),
		B3: max(0, 1-3*c5/c4), B4: 1 + 3*c5/c4, B5: max(0, c4-3*c5), B6: c4 + 3*c5,
		R1: max(0, d2-3*d3), R2: d2 + 3*d3, R3: max(0, 1-3*d3/d2), R4: 1 + 3*d3/d2,
	}
}

// meanOfSD is c4 = sqrt(2/(n-1)) Gamma(n/2) / Gamma((n-1)/2).
func meanOfSD(n int) float64 {
	a, _ := math.Lgamma(float64(n) / 2)
	b, _ := math.Lgamma(float64(n-1) / 2)
	return math.Sqrt(2/float64(n-1)) * math.Exp(a-b)
}

// RangeMoments are mean and standard deviation of the range of n standard
// normal values: the integrals of P(R > r) and of 2 r P(R > r) (Tippett 1925).
// Beyond 9 sigma a normal value, beyond 18 a range is rarer than 1e-18.
func RangeMoments(n int) (d2, d3 float64) {
	inner := numeric.Legendre(160, -9, 9)
	first, second := 0.0, 0.0
	outer := numeric.Legendre(120, 0, 18)
	for i, r := range outer.X {
		beyond := 1 - rangeCDF(n, r, inner)
		first += outer.Weight[i] * beyond
		second += outer.Weight[i] * 2 * r * beyond
	}
	return first, math.Sqrt(second - first*first)
}

// rangeCDF is P(R <= r) = n times the integral of phi(x) (Phi(x+r)-Phi(x))^(n-1).
func rangeCDF(n int, r float64, over numeric.Quadrature) float64 {
	return float64(n) * over.Integrate(func(x float64) float64 {
		between := distuv.UnitNormal.CDF(x+r) - distuv.UnitNormal.CDF(x)
		return distuv.UnitNormal.Prob(x) * math.Pow(between, float64(n-1))
	})
}
