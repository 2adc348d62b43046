package stats

import (
	"math"
	"slices"

	"padjig/results/stats/numeric"
)

// Summary describes a sample. SD divides by n-1 and is NaN for one value.
type Summary struct {
	N        int
	Mean     float64
	SD       float64
	Min, Max float64
}

// Summarize describes values, of any unit and order. Mean and standard
// deviation come from two passes with the sums' errors kept, so that they are
// right to the last digits that the values carry, also where those differ in
// the tenth digit only. Errors: no values, a value not finite.
func Summarize(values []float64) (Summary, error) {
	if err := Usable(values, 1); err != nil {
		return Summary{}, err
	}
	s := Summary{N: len(values), SD: math.NaN(), Min: slices.Min(values), Max: slices.Max(values)}
	hi, lo := numeric.Center(values)
	s.Mean = hi + lo
	if s.N > 1 {
		s.SD = math.Sqrt(numeric.Variance(values))
	}
	return s, nil
}

// MeanIntervalOf is the same from the mean and standard deviation of n values.
// It is NaN for fewer than two and a confidence outside 0..1.
func MeanIntervalOf(mean, sd float64, n int, confidence float64) Interval {
	if n < 2 || CheckConfidence(confidence) != nil {
		return Interval{Low: math.NaN(), High: math.NaN(), Confidence: confidence}
	}
	return Around(mean, numeric.TQuantile(confidence, float64(n-1))*sd/math.Sqrt(float64(n)), confidence)
}

// Sigma is an estimated standard deviation and how many degrees of freedom
// stand behind it.
type Sigma struct{ Value, DF float64 }
