// Package capability is how well a process meets its limits: the indices with their
// intervals, whether the values are normal, and what percentiles say when they are not.
package capability

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
)

// Spec are the limits a characteristic is to stay within, in its own unit.
// A side without limit is infinite; see [AtMost].
type Spec struct{ Lower, Upper float64 }

// AtMost is a specification with an upper limit alone.
func AtMost(upper float64) Spec { return Spec{Lower: math.Inf(-1), Upper: upper} }

// TwoSided reports whether both limits are there.
func (s Spec) TwoSided() bool { return !math.IsInf(s.Lower, -1) && !math.IsInf(s.Upper, 1) }

// Check reports a specification that is none.
func (s Spec) Check() error {
	if math.IsInf(s.Lower, -1) && math.IsInf(s.Upper, 1) {
		return errors.New("no limit on either side: there is nothing to be capable of")
	}
	if !(s.Lower < s.Upper) {
		return errors.New("the lower limit is not below the upper limit")
	}
	return nil
}

// Indices compare a process's spread with its specification
// (e-Handbook 6.1.6). Without a limit on a side, its index and P are NaN,
// and PK is that of the other side.
type Indices struct {
	P  float64 // Cp or Pp: (upper - lower) / 6 sigma
	PU float64 // Cpu, Ppu: (upper - mean) / 3 sigma
	PL float64 // Cpl, Ppl: (mean - lower) / 3 sigma
	PK float64 // Cpk, Ppk: the less of the two
}

// NewIndices computes them. Errors: [Spec.Check], sigma not above 0.
func NewIndices(mean, sigma float64, spec Spec) (Indices, error) {
	if err := spec.Check(); err != nil {
		return Indices{}, err
	}
	if !(sigma > 0) {
		return Indices{}, stats.ErrNoSpread
	}
	i := Indices{P: math.NaN(), PU: math.NaN(), PL: math.NaN(), PK: math.Inf(1)}
	if spec.TwoSided() {
		i.P = (spec.Upper - spec.Lower) / (6 * sigma)
	}
	if !math.IsInf(spec.Upper, 1) {
		i.PU = (spec.Upper - mean) / (3 * sigma)
		i.PK = i.PU
	}
	if !math.IsInf(spec.Lower, -1) {
		i.PL = (mean - spec.Lower) / (3 * sigma)
		i.PK = min(i.PK, i.PL)
	}
	return i, nil
}

// CpInterval is the chi-square interval for Cp or Pp whose sigma has df
// degrees of freedom: Cp sqrt(chi2/df). Exact for a normal process. It is NaN
// for df <= 0 and a confidence outside 0..1, as the next three are.
func CpInterval(cp, df, confidence float64) stats.Interval {
	return stats.Interval{
		Low:        cp * math.Sqrt(numeric.ChiQuantile((1-confidence)/2, df)/df),
		High:       cp * math.Sqrt(numeric.ChiQuantile((1+confidence)/2, df)/df),
		Confidence: confidence,
	}
}

// CpkInterval is Bissell's normal approximation (1990; e-Handbook 6.1.6) for
// Cpk or Ppk of n values whose sigma has df degrees of freedom:
// Cpk +- z sqrt(1/(9n) + Cpk^2/(2 df)).
func CpkInterval(cpk float64, n int, df, confidence float64) stats.Interval {
	return stats.Around(cpk, numeric.TwoSided(confidence)*bissell(cpk, n, df), confidence)
}

func bissell(cpk float64, n int, df float64) float64 {
	return math.Sqrt(1/(9*float64(n)) + cpk*cpk/(2*df))
}

// ExpectedPPM is how many of a million units lie outside the specification,
// for a normal process. A figure below about 1 rests on the tails of a
// distribution nobody has seen.
func ExpectedPPM(mean, sigma float64, spec Spec) float64 {
	law := distuv.UnitNormal
	return 1e6 * (law.CDF((spec.Lower-mean)/sigma) + numeric.UpperTail((spec.Upper-mean)/sigma))
}

// Capability is a process held against its specification twice: with sigma
// within subgroups, what it could do if it held its level, and with the
// standard deviation of all, what it did.
type Capability struct {
	N       int
	Mean    float64
	Within  stats.Sigma
	Overall stats.Sigma
	C       Indices // Cp, Cpu, Cpl, Cpk
	P       Indices // Pp, Ppu, Ppl, Ppk
	// ExpectedPPM and ObservedOut are how many are expected outside, of a
	// million, from Overall, and how many of the N were.
	ExpectedPPM float64
	ObservedOut int
}

// New computes it from all values and sigma within, from
// [WithinSubgroups] or [WithinNeighbours]. Errors: fewer than two values, not
// finite, zero variance, no specification.
func New(values []float64, within stats.Sigma, spec Spec) (Capability, error) {
	if err := stats.Usable(values, 2); err != nil {
		return Capability{}, err
	}
	s, err := stats.Summarize(values)
	if err != nil {
		return Capability{}, err
	}
	c := Capability{N: s.N, Mean: s.Mean, Within: within, Overall: stats.Sigma{Value: s.SD, DF: float64(s.N - 1)}}
	if c.C, err = NewIndices(s.Mean, within.Value, spec); err != nil {
		return Capability{}, err
	}
	if c.P, err = NewIndices(s.Mean, s.SD, spec); err != nil {
		return Capability{}, err
	}
	c.ExpectedPPM = ExpectedPPM(s.Mean, s.SD, spec)
	for _, v := range values {
		if v < spec.Lower || v > spec.Upper {
			c.ObservedOut++
		}
	}
	return c, nil
}

// WithinSubgroups pools the variances of subgroups. Groups of one value add
// nothing. Errors: no group of two values, not finite, zero variance.
func WithinSubgroups(groups [][]float64) (stats.Sigma, error) {
	if err := stats.UsableGroups(groups, 1, 1); err != nil {
		return stats.Sigma{}, err
	}
	var ss, df float64
	for _, g := range groups {
		ss += numeric.SumOfSquares(g)
		df += float64(len(g) - 1)
	}
	if df == 0 {
		return stats.Sigma{}, errors.New("every subgroup has one value: spread within needs two in some")
	}
	if ss == 0 {
		return stats.Sigma{}, stats.ErrNoSpread
	}
	return stats.Sigma{Value: math.Sqrt(ss / df), DF: df}, nil
}
