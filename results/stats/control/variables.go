// Package control is control charts: limits from a baseline, the rules on plotted
// points, and how long a chart runs until it signals.
package control

import (
	"fmt"
	"math"
	"slices"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
)

// Limits are what one point of a chart is held against.
type Limits struct{ Lower, Center, Upper float64 }

// Out reports whether x lies outside the limits. On a limit is inside.
func (l Limits) Out(x float64) bool { return x < l.Lower || x > l.Upper }

func threeSigma(center, sigma float64) Limits {
	return Limits{Lower: center - 3*sigma, Center: center, Upper: center + 3*sigma}
}

// Individuals is the frozen baseline of a chart of single values with moving
// ranges of two: what the process was when it was called in order. Later
// values are judged by it and never change it.
type Individuals struct {
	N       int // values in the baseline
	Mean    float64
	MeanMR  float64 // mean moving range
	Sigma   float64 // MeanMR / d2(2)
	RangeD4 float64 // D4(2), for the ranges' upper limit
}

// NewIndividuals takes the baseline from values in time order. Sigma comes
// from neighbours' differences (e-Handbook 6.3.2.2), with d2 exact where
// tables round it to 1.128, so that a slow drift widens it little. Errors:
// fewer than two values, not finite, all moving ranges zero.
func NewIndividuals(values []float64) (Individuals, error) {
	if err := stats.Usable(values, 2); err != nil {
		return Individuals{}, err
	}
	c, err := ChartConstants(2)
	if err != nil {
		return Individuals{}, err
	}
	mr := numeric.Mean(MovingRanges(values))
	if mr == 0 {
		return Individuals{}, stats.ErrNoSpread
	}
	return Individuals{N: len(values), Mean: numeric.Mean(values), MeanMR: mr, Sigma: mr / c.D2, RangeD4: c.R4}, nil
}

// MovingRanges are the absolute differences of neighbours: one fewer than
// values.
func MovingRanges(values []float64) []float64 {
	ranges := make([]float64, 0, max(0, len(values)-1))
	for i := 1; i < len(values); i++ {
		ranges = append(ranges, math.Abs(values[i]-values[i-1]))
	}
	return ranges
}

// Limits are mean +- 3 sigma.
func (b Individuals) Limits() Limits { return threeSigma(b.Mean, b.Sigma) }

// RangeLimits are those of the moving ranges: 0 and D4 times their mean.
func (b Individuals) RangeLimits() Limits {
	return Limits{Center: b.MeanMR, Upper: b.RangeD4 * b.MeanMR}
}

// Standardize gives (x - mean)/sigma, what [Rules] are applied to.
func (b Individuals) Standardize(values []float64) []float64 {
	z := make([]float64, len(values))
	for i, v := range values {
		z[i] = (v - b.Mean) / b.Sigma
	}
	return z
}

// Spread is what a subgroup's spread is measured by.
type Spread int

// The two, for X-bar charts.
const (
	ByRange Spread = iota // R: simple, for n up to about 10
	BySD                  // s: better from then on
)

// Subgrouped is the frozen baseline of an X-bar chart and of the chart of
// spread beside it.
type Subgrouped struct {
	Spread Spread
	Groups int     // subgroups in the baseline
	Mean   float64 // grand mean of all values
	Sigma  float64 // within subgroups
}

// NewXbarR takes the baseline of X-bar and R charts from rational subgroups.
// Subgroups may differ in size: sigma is then the weighted mean of R/d2 with
// weights (d2/d3)^2, the best linear one (Burr 1969), which for equal sizes
// is Rbar/d2. Errors: fewer than two subgroups, one of fewer than two values,
// not finite, no spread in any.
func NewXbarR(groups [][]float64) (Subgrouped, error) { return newSubgrouped(groups, ByRange) }

// NewXbarS is [NewXbarR] from standard deviations: weights c4^2/(1-c4^2) on
// s/c4, for equal sizes sbar/c4.
func NewXbarS(groups [][]float64) (Subgrouped, error) { return newSubgrouped(groups, BySD) }

func newSubgrouped(groups [][]float64, by Spread) (Subgrouped, error) {
	if err := stats.UsableGroups(groups, 2, 2); err != nil {
		return Subgrouped{}, err
	}
	var weights, weighted, unit, sd float64
	for i, g := range groups {
		if i == 0 || len(g) != len(groups[i-1]) { // few sizes, and long to work out
			var err error
			if unit, sd, err = by.moments(len(g)); err != nil {
				return Subgrouped{}, err
			}
		}
		w := (unit / sd) * (unit / sd)
		weights += w
		weighted += w * by.Of(g) / unit
	}
	if weighted == 0 {
		return Subgrouped{}, stats.ErrNoSpread
	}
	return Subgrouped{Spread: by, Groups: len(groups), Mean: numeric.Mean(slices.Concat(groups...)), Sigma: weighted / weights}, nil
}

// Of is the spread of one subgroup.
func (s Spread) Of(group []float64) float64 {
	if s == BySD {
		return math.Sqrt(numeric.Variance(group))
	}
	return slices.Max(group) - slices.Min(group)
}

// moments are mean and standard deviation of the spread of n values for sigma 1.
func (s Spread) moments(n int) (mean, sd float64, err error) {
	if s == BySD && n > 1 { // needs no integrals, which large subgroups would take for each point
		c4 := meanOfSD(n)
		return c4, math.Sqrt(1 - c4*c4), nil
	}
	c, err := ChartConstants(n)
	return c.D2, c.D3, err
}

// Limits are those of the mean of a subgroup of n: mean +- 3 sigma/sqrt(n).
func (b Subgrouped) Limits(n int) Limits {
	return threeSigma(b.Mean, b.Sigma/math.Sqrt(float64(n)))
}

// SpreadLimits are those of the spread of a subgroup of n, cut at 0.
// Errors: n < 2.
func (b Subgrouped) SpreadLimits(n int) (Limits, error) {
	mean, sd, err := b.Spread.moments(n)
	if err != nil {
		return Limits{}, err
	}
	l := threeSigma(mean*b.Sigma, sd*b.Sigma)
	l.Lower = max(0, l.Lower)
	return l, nil
}

// Standardize gives each subgroup's mean as (mean - grand mean) sqrt(n)/sigma,
// what [Rules] are applied to. Errors: a subgroup without values, not finite.
func (b Subgrouped) Standardize(groups [][]float64) ([]float64, error) {
	z := make([]float64, len(groups))
	for i, g := range groups {
		if err := stats.Usable(g, 1); err != nil {
			return nil, fmt.Errorf("group %d: %w", i+1, err)
		}
		z[i] = (numeric.Mean(g) - b.Mean) * math.Sqrt(float64(len(g))) / b.Sigma
	}
	return z, nil
}
