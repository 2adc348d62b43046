package stats

import (
	"fmt"
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

// MeanInterval is Student's interval for the mean of a normal population:
// mean +- t(n-1) sd/sqrt(n). Errors: fewer than two values, not finite.
func MeanInterval(values []float64, confidence float64) (Interval, error) {
	if err := CheckConfidence(confidence); err != nil {
		return Interval{}, err
	}
	if err := Usable(values, 2); err != nil {
		return Interval{}, err
	}
	return MeanIntervalOf(numeric.Mean(values), math.Sqrt(numeric.Variance(values)), len(values), confidence), nil
}

// MeanIntervalOf is the same from the mean and standard deviation of n values.
// It is NaN for fewer than two and a confidence outside 0..1.
func MeanIntervalOf(mean, sd float64, n int, confidence float64) Interval {
	if n < 2 || CheckConfidence(confidence) != nil {
		return Interval{Low: math.NaN(), High: math.NaN(), Confidence: confidence}
	}
	return Around(mean, numeric.TQuantile(confidence, float64(n-1))*sd/math.Sqrt(float64(n)), confidence)
}

// SDInterval is the chi-square interval for the standard deviation of a normal
// population from a sample's sd with df degrees of freedom:
// sd sqrt(df/chi2). A low df gives a wide interval; that is the message. It is
// NaN for df <= 0 and a confidence outside 0..1.
func SDInterval(sd, df, confidence float64) Interval {
	return Interval{
		Low:        sd * math.Sqrt(df/numeric.ChiQuantile((1+confidence)/2, df)),
		High:       sd * math.Sqrt(df/numeric.ChiQuantile((1-confidence)/2, df)),
		Confidence: confidence,
	}
}

// Autocorrelation is the lag-k autocorrelation of values in their order:
// the sum of d[i] d[i+k] over the sum of d[i] d[i], d being deviations from
// the mean of all (the convention of the NIST StRD sets). Near 0 it says that
// neighbours know nothing of each other, which the control charts assume.
// Errors: fewer than k+2 values, not finite, zero variance.
func Autocorrelation(values []float64, lag int) (float64, error) {
	if lag < 0 {
		return 0, fmt.Errorf("a lag of %d looks into the future: write 1 for neighbours", lag)
	}
	if err := Usable(values, lag+2); err != nil {
		return 0, err
	}
	hi, lo := numeric.Center(values)
	d := numeric.Deviations(values, hi, lo)
	products := make([]float64, len(d)-lag)
	for i := range products {
		products[i] = d[i] * d[i+lag]
	}
	total := numeric.Sum(numeric.Squares(d))
	if total == 0 {
		return 0, ErrNoSpread
	}
	return numeric.Sum(products) / total, nil
}

// Sigma is an estimated standard deviation and how many degrees of freedom
// stand behind it.
type Sigma struct{ Value, DF float64 }
