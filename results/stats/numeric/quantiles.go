package numeric

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// The quantiles of gonum panic outside their range; these are NaN there, which
// whoever asked for a confidence of 95 in place of 0.95 can see.

func NormalQuantile(p float64) float64 {
	if !inside(p) {
		return math.NaN()
	}
	return distuv.UnitNormal.Quantile(p)
}

func ChiQuantile(p, df float64) float64 {
	if !inside(p) || !sensible(df) {
		return math.NaN()
	}
	return distuv.ChiSquared{K: df}.Quantile(p)
}

// TwoSided is the normal quantile that leaves (1 - confidence)/2 above it.
func TwoSided(confidence float64) float64 { return -NormalQuantile((1 - confidence) / 2) }

// TQuantile is the two-sided Student quantile: it leaves (1 - confidence)/2
// above it.
func TQuantile(confidence, df float64) float64 {
	p := (1 - confidence) / 2
	if !inside(p) || !sensible(df) {
		return math.NaN()
	}
	return -distuv.StudentsT{Sigma: 1, Nu: df}.Quantile(p)
}

// sensible degrees of freedom: gonum looks for a quantile without end when
// there are too many.
func sensible(df float64) bool { return df > 0 && df < 1e9 }

func inside(p float64) bool { return p > 0 && p < 1 }

// UpperTail is the chance that a standard normal value lies above x. gonum's
// Survival subtracts from one and has no digits left beyond 8 sigma.
func UpperTail(x float64) float64 { return distuv.UnitNormal.CDF(-x) }

// FSurvival is P(F > f), by the beta tail that keeps small values' digits:
// gonum's is 1 - CDF.
func FSurvival(f, d1, d2 float64) float64 {
	return distuv.Beta{Alpha: d2 / 2, Beta: d1 / 2}.CDF(d2 / (d2 + d1*f))
}
