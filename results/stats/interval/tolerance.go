package interval

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
)

// ToleranceFactorOneSided is k for which, with the confidence, mean + k sd of
// n values lies above the share coverage of a normal population: the
// confidence quantile of noncentral t(n-1, z sqrt(n)) over sqrt(n), exact.
// Errors: n < 2, coverage or confidence outside 0..1.
func ToleranceFactorOneSided(n int, coverage, confidence float64) (float64, error) {
	if err := checkTolerance(n, coverage, confidence); err != nil {
		return 0, err
	}
	root := math.Sqrt(float64(n))
	delta := numeric.NormalQuantile(coverage) * root
	return numeric.NoncentralT{DF: float64(n - 1)}.Quantile(confidence, delta) / root, nil
}

// ToleranceFactorTwoSided is k for which, with the confidence, mean +- k sd
// of n values holds the share coverage of a normal population. It is exact:
// averaged over where the sample's mean lies, the chance that k sd reaches
// far enough to cover the share from there (Odeh and Owen 1980). Errors as
// [ToleranceFactorOneSided].
func ToleranceFactorTwoSided(n int, coverage, confidence float64) (float64, error) {
	if err := checkTolerance(n, coverage, confidence); err != nil {
		return 0, err
	}
	df := float64(n - 1)
	over := numeric.Legendre(64, 0, 9)
	reach := make([]float64, len(over.X))
	for i, z := range over.X {
		reach[i] = reachFrom(z/math.Sqrt(float64(n)), coverage)
	}
	law := distuv.ChiSquared{K: df}
	short := func(k float64) float64 { // the chance to fall short, less what is allowed
		missed := 0.0
		for i, z := range over.X {
			r := reach[i] / k
			missed += 2 * over.Weight[i] * distuv.UnitNormal.Prob(z) * law.CDF(df*r*r)
		}
		return missed - (1 - confidence)
	}
	return numeric.Crossing(1e-3, numeric.UpperBracket(1e-3, ToleranceFactorHowe(n, coverage, confidence), short), short), nil
}

// reachFrom is how far on either side of x the interval must go to hold the
// share of a standard normal population.
func reachFrom(x, share float64) float64 {
	return numeric.Crossing(0, math.Abs(x)+40, func(r float64) float64 {
		return distuv.UnitNormal.CDF(x+r) - distuv.UnitNormal.CDF(x-r) - share
	})
}

// ToleranceFactorHowe is Howe's approximation (1969; e-Handbook 7.2.6.3) to
// the two-sided factor, which one can check by hand:
// z sqrt((n-1)(1+1/n)/chi2).
func ToleranceFactorHowe(n int, coverage, confidence float64) float64 {
	N := float64(n)
	chi := numeric.ChiQuantile(1-confidence, N-1)
	return numeric.TwoSided(coverage) * math.Sqrt((N-1)*(1+1/N)/chi)
}

func checkTolerance(n int, coverage, confidence float64) error {
	if n < 2 {
		return &stats.TooFewError{Have: n, Need: 2, What: "values"}
	}
	if !(coverage > 0 && coverage < 1) {
		return errors.New("the share to cover lies between 0 and 1, such as 0.99")
	}
	return stats.CheckConfidence(confidence)
}

// Tolerance is an interval that holds a share of a population with a
// confidence.
type Tolerance struct {
	stats.Interval
	Coverage float64
	N        int
	Factor   float64 // k of a normal one, else 0
	// Reached is the confidence of a distribution-free one, which moves in
	// steps and is never below the one asked for.
	Reached float64
}

// Side is which limits a tolerance interval has.
type Side int

// The three.
const (
	BothSides Side = iota
	OnlyUpper
	OnlyLower
)

// NormalTolerance is the tolerance interval of a normal population, from its
// sample. Look at [AndersonDarling] first: what it says of the tails is the
// normal distribution's word. Errors: fewer than two values, not finite, zero
// variance, coverage or confidence outside 0..1.
func NormalTolerance(values []float64, side Side, coverage, confidence float64) (Tolerance, error) {
	if err := stats.Usable(values, 2); err != nil {
		return Tolerance{}, err
	}
	s, err := stats.Summarize(values)
	if err != nil {
		return Tolerance{}, err
	}
	if s.SD == 0 {
		return Tolerance{}, stats.ErrNoSpread
	}
	factor := ToleranceFactorOneSided
	if side == BothSides {
		factor = ToleranceFactorTwoSided
	}
	k, err := factor(s.N, coverage, confidence)
	if err != nil {
		return Tolerance{}, err
	}
	t := Tolerance{Interval: stats.Around(s.Mean, k*s.SD, confidence), Coverage: coverage, N: s.N, Factor: k, Reached: confidence}
	t.open(side)
	return t, nil
}

// open drops the limit that the side does not have.
func (t *Tolerance) open(side Side) {
	switch side {
	case OnlyUpper:
		t.Low = math.Inf(-1)
	case OnlyLower:
		t.High = math.Inf(1)
	}
}

// NonparametricSampleSize is the least n whose extremes make a distribution-free
// interval: the largest value one-sided, smallest to largest two-sided.
// Errors: coverage or confidence outside 0..1.
func NonparametricSampleSize(side Side, coverage, confidence float64) (int, error) {
	if err := checkTolerance(2, coverage, confidence); err != nil {
		return 0, err
	}
	if side != BothSides { // 1 - p^n >= confidence
		return int(math.Ceil(math.Log(1-confidence)/math.Log(coverage) - 1e-12)), nil
	}
	missed := func(n float64) float64 { // n p^(n-1) - (n-1) p^n
		return n*math.Pow(coverage, n-1) - (n-1)*math.Pow(coverage, n)
	}
	low, high := 1, 2
	for missed(float64(high)) > 1-confidence {
		low, high = high, 2*high
	}
	for high-low > 1 {
		if mid := (low + high) / 2; missed(float64(mid)) > 1-confidence {
			low = mid
		} else {
			high = mid
		}
	}
	return high, nil
}

// NonparametricTolerance is the distribution-free interval: the narrowest between
// order statistics, cut evenly from both ends, that reaches the confidence.
// Errors: too few values, with how many are needed; not finite; coverage or
// confidence outside 0..1.
func NonparametricTolerance(values []float64, side Side, coverage, confidence float64) (Tolerance, error) {
	if err := checkTolerance(2, coverage, confidence); err != nil {
		return Tolerance{}, err
	}
	need, err := NonparametricSampleSize(side, coverage, confidence)
	if err != nil {
		return Tolerance{}, err
	}
	if err := stats.Usable(values, need); err != nil {
		return Tolerance{}, err
	}
	sorted := slices.Sorted(slices.Values(values))
	left, reached := mostLeft(len(sorted), coverage, confidence)
	below, above := left/2, left-left/2
	if side != BothSides {
		below, above = left, left
	}
	t := Tolerance{
		Interval: stats.Interval{Low: sorted[max(below, 1)-1], High: sorted[len(sorted)-max(above, 1)], Confidence: confidence},
		Coverage: coverage, N: len(sorted), Reached: reached,
	}
	t.open(side)
	return t, nil
}

// mostLeft is the largest number of the n+1 gaps between order statistics that may
// lie outside so that the rest holds the share coverage of any continuous population:
// P(B <= n-left) with B binomial(n, coverage) (Wilks 1941; e-Handbook 7.2.6.4).
func mostLeft(n int, coverage, confidence float64) (left int, reached float64) {
	total := 0.0
	for k, p := range numeric.BinomialLaw(n, coverage) {
		if total += p; total >= confidence {
			return n - k, min(1, total)
		}
	}
	return 0, 1
}
