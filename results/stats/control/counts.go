package control

import (
	"errors"
	"fmt"
	"math"

	"padjig/results/stats"
)

// A Sample is a count in a sample of some size: failed units of n tested
// (p, np) or faults on an amount of product (c, u).
type Sample struct {
	Count int
	Size  float64 // units tested, or amount of product; 1 for a c chart
}

// Proportions is the frozen baseline of a p or np chart: the share of failed
// units.
type Proportions struct {
	Samples int
	Share   float64 // pooled over all units of the baseline
}

// Rates is the frozen baseline of a c or u chart: faults an amount of product.
type Rates struct {
	Samples int
	Rate    float64 // pooled
}

// NewProportions pools the samples: all failed over all tested (e-Handbook
// 6.3.3.2). Errors: no samples, a size of 0 or less or not whole, a count
// outside 0..size.
func NewProportions(samples []Sample) (Proportions, error) {
	count, size, err := pool(samples)
	if err != nil {
		return Proportions{}, err
	}
	for i, s := range samples {
		if float64(s.Count) > s.Size || s.Size != math.Trunc(s.Size) {
			return Proportions{}, fmt.Errorf("sample %d: %d failed of %v tested cannot be", i+1, s.Count, s.Size)
		}
	}
	return Proportions{Samples: len(samples), Share: count / size}, nil
}

// NewRates pools the samples: all faults over all product (e-Handbook
// 6.3.3.1). Errors as [NewProportions], but a count may exceed the size.
func NewRates(samples []Sample) (Rates, error) {
	count, size, err := pool(samples)
	if err != nil {
		return Rates{}, err
	}
	return Rates{Samples: len(samples), Rate: count / size}, nil
}

func pool(samples []Sample) (count, size float64, err error) {
	if len(samples) == 0 {
		return 0, 0, stats.ErrEmpty
	}
	for i, s := range samples {
		if s.Count < 0 || !(s.Size > 0) || math.IsInf(s.Size, 0) {
			return 0, 0, fmt.Errorf("sample %d: a count of %d in %v cannot be", i+1, s.Count, s.Size)
		}
		count += float64(s.Count)
		size += s.Size
	}
	return count, size, nil
}

// Limits are those of the share failed of n units:
// p +- 3 sqrt(p(1-p)/n), cut to 0..1. They move with n.
func (b Proportions) Limits(n int) Limits {
	l := threeSigma(b.Share, b.sigma(float64(n)))
	return Limits{Lower: max(0, l.Lower), Center: l.Center, Upper: min(1, l.Upper)}
}

// CountLimits are those of the number failed of n units (np chart).
func (b Proportions) CountLimits(n int) Limits { return b.Limits(n).times(float64(n)) }

func (b Proportions) sigma(n float64) float64 { return math.Sqrt(b.Share * (1 - b.Share) / n) }

// Standardize gives each sample's share as distance from the baseline in its
// own sigma. Errors: a baseline of none or all failed, which has no sigma.
func (b Proportions) Standardize(samples []Sample) ([]float64, error) {
	if b.Share == 0 || b.Share == 1 {
		return nil, errors.New("the baseline has none or all failed: its limits have no width, so take a longer baseline")
	}
	return standardize(samples, b.Share, b.sigma), nil
}

// Limits are those of faults per unit of size, in a sample of the size:
// u +- 3 sqrt(u/size), cut at 0 (u chart).
func (b Rates) Limits(size float64) Limits {
	l := threeSigma(b.Rate, b.sigma(size))
	l.Lower = max(0, l.Lower)
	return l
}

// CountLimits are those of the number of faults in a sample of the size; with
// size 1 throughout this is the c chart.
func (b Rates) CountLimits(size float64) Limits { return b.Limits(size).times(size) }

func (b Rates) sigma(size float64) float64 { return math.Sqrt(b.Rate / size) }

// Standardize is [Proportions.Standardize] for faults. Errors: a baseline
// without a fault.
func (b Rates) Standardize(samples []Sample) ([]float64, error) {
	if b.Rate == 0 {
		return nil, errors.New("the baseline has no fault: its limits have no width, so take a longer baseline")
	}
	return standardize(samples, b.Rate, b.sigma), nil
}

func standardize(samples []Sample, center float64, sigma func(size float64) float64) []float64 {
	z := make([]float64, len(samples))
	for i, s := range samples {
		z[i] = (float64(s.Count)/s.Size - center) / sigma(s.Size)
	}
	return z
}

func (l Limits) times(factor float64) Limits {
	return Limits{Lower: l.Lower * factor, Center: l.Center * factor, Upper: l.Upper * factor}
}
