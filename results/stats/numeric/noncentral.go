package numeric

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// NoncentralT is the distribution of (Z + delta)/W, Z standard normal and
// W = sqrt(chi2(df)/df). gonum has one, which steps over to an approximation
// of five digits when delta is above 38 - where the factors for high coverage
// lie - and stops at 1e-12 otherwise; so it is integrated here.
type NoncentralT struct{ DF float64 }

// cdf averages over Z or over W, whichever leaves the smoother function: for
// t far from zero it is P(W >= (z+delta)/t), else P(Z <= t w - delta).
func (n NoncentralT) cdf(t, delta float64) float64 {
	switch {
	case t < -2:
		return 1 - n.overZ(-t, -delta)
	case t > 2:
		return n.overZ(t, delta)
	}
	return n.overW(t, delta)
}

// overZ is for t > 0. Below -delta the chance is 1.
func (n NoncentralT) overZ(t, delta float64) float64 {
	const far = 9.5 // sigma: 1e-21 lies beyond
	from := max(-delta, -far)
	if from >= far {
		return 1
	}
	chi := distuv.ChiSquared{K: n.DF}
	total := distuv.UnitNormal.CDF(from)
	for _, part := range inPanels(8, from, far) {
		total += part.Integrate(func(z float64) float64 {
			x := (z + delta) / t
			return distuv.UnitNormal.Prob(z) * chi.Survival(n.DF*x*x)
		})
	}
	return total
}

func (n NoncentralT) overW(t, delta float64) float64 {
	low := math.Sqrt(ChiQuantile(1e-17, n.DF) / n.DF)
	high := math.Sqrt((n.DF + 13*math.Sqrt(2*n.DF) + 80) / n.DF)
	gamma, _ := math.Lgamma(n.DF / 2)
	total := 0.0
	for _, part := range inPanels(16, low, high) {
		total += part.Integrate(func(w float64) float64 {
			log := math.Ln2 + n.DF/2*math.Log(n.DF/2) - gamma + (n.DF-1)*math.Log(w) - n.DF*w*w/2
			return math.Exp(log) * distuv.UnitNormal.CDF(t*w-delta)
		})
	}
	return total
}

// inPanels are Gauss rules of 16 side by side.
func inPanels(count int, low, high float64) []Quadrature {
	parts := make([]Quadrature, count)
	for i := range parts {
		at := func(k int) float64 { return low + (high-low)*float64(k)/float64(count) }
		parts[i] = Legendre(16, at(i), at(i+1))
	}
	return parts
}

// Quantile is that of the distribution with the given delta.
func (n NoncentralT) Quantile(p, delta float64) float64 {
	sign := 1.0
	if n.cdf(0, delta) > p {
		sign = -1
	}
	f := func(t float64) float64 { return n.cdf(sign*t, delta) - p }
	return sign * Crossing(0, UpperBracket(0, 1, f), f)
}
