package stats

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"padjig/results/stats/numeric"
)

// Quantile is the value below which a share p of values lies, between order
// statistics in a straight line: h = (n-1)p, the seventh of the nine
// definitions of Hyndman and Fan (1996) and the one most programs take. The
// values need no order. Errors: no values, not finite, p outside 0..1.
func Quantile(values []float64, p float64) (float64, error) {
	if err := Usable(values, 1); err != nil {
		return 0, err
	}
	if !(p >= 0 && p <= 1) {
		return 0, fmt.Errorf("a quantile's share lies between 0 and 1, not %v", p)
	}
	return QuantileSorted(slices.Sorted(slices.Values(values)), p), nil
}

// QuantileSorted is [Quantile] of values in ascending order, unchecked.
func QuantileSorted(sorted []float64, p float64) float64 {
	h := p * float64(len(sorted)-1)
	i := int(h)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}

// QuantileBounds are order statistics between which the population's quantile lies, each with
// at most the given risk that it lies beyond, whatever the distribution: the k-th value is
// above it unless k or more of n are below, which is binomial (David and Nagaraja, Order
// Statistics, 3rd ed., 7.1, from memory; e-Handbook 7.2.6.2 of the quantile itself). An end that
// no value bounds is infinite. The values are in ascending order, unchecked.
func QuantileBounds(sorted []float64, p, risk float64) Interval {
	out := Interval{Low: math.Inf(-1), High: math.Inf(1), Confidence: 1 - 2*risk}
	law := numeric.BinomialLaw(len(sorted), p)
	below := 0.0
	for k, chance := range law { // P(B <= k)
		if below += chance; below > risk || k >= len(sorted) {
			break
		}
		out.Low = sorted[k]
	}
	above := 0.0
	for k := len(law) - 1; k > 0; k-- { // P(B >= k)
		if above += law[k]; above > risk {
			break
		}
		out.High = sorted[k-1]
	}
	return out
}

// A Histogram counts values in bins of one width. Bin i is the half-open
// range from Low + i Width on; the last holds its upper end too.
type Histogram struct {
	Low, Width float64
	Counts     []int
}

// NewHistogram counts values in at most most bins (at least 1). The width is
// that of Freedman and Diaconis (1981), 2 IQR n^(-1/3), rounded up to 1, 2 or
// 5 times a power of ten so that the bins' ends read well. Values that are all
// equal give one bin. Errors: no values, not finite.
func NewHistogram(values []float64, most int) (Histogram, error) {
	if err := Usable(values, 1); err != nil {
		return Histogram{}, err
	}
	sorted := slices.Sorted(slices.Values(values))
	if math.IsInf(sorted[len(sorted)-1]-sorted[0], 0) {
		return Histogram{}, errors.New("the values lie further apart than numbers reach")
	}
	h := binning(sorted, max(most, 1))
	for _, v := range sorted {
		h.Counts[h.Bin(v)]++
	}
	return h, nil
}

// Bin is the bin that counts a value.
func (h Histogram) Bin(v float64) int { return min(max(int((v-h.Low)/h.Width), 0), len(h.Counts)-1) }

func binning(sorted []float64, most int) Histogram {
	low, high := sorted[0], sorted[len(sorted)-1]
	if low == high {
		return Histogram{Low: low, Width: 1, Counts: make([]int, 1)}
	}
	iqr := QuantileSorted(sorted, 0.75) - QuantileSorted(sorted, 0.25)
	width := 2 * iqr / math.Cbrt(float64(len(sorted)))
	width = roundUp(max(width, (high-low)/float64(most)))
	for range 8 {
		start := math.Floor(low/width) * width
		if bins := math.Floor((high-start)/width) + 1; bins >= 1 && bins <= float64(most) {
			return Histogram{Low: start, Width: width, Counts: make([]int, int(bins))}
		}
		width = roundUp(width * 1.01)
	}
	// At the edges of what numbers can hold, ends that read well cannot be had,
	// nor can they with one bin.
	return Histogram{Low: low, Width: (high - low) / float64(most), Counts: make([]int, most)}
}

// roundUp is the least of 1, 2, 5 times a power of ten that is no less than x.
func roundUp(x float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= x {
			return m * power
		}
	}
	return 10 * power
}
