// Package numeric is what the statistics are reckoned with, where the libraries lose
// digits: sums, quantiles, discrete laws, integration and roots.
package numeric

import "math"

// Sum adds with the running error kept apart (Neumaier 1974): the result is
// right to a unit in the last place however the terms cancel, short of
// cancellation by 1e16.
func Sum(values []float64) float64 {
	var s, lost float64
	for _, v := range values {
		t := s + v
		if math.Abs(s) >= math.Abs(v) {
			lost += (s - t) + v
		} else {
			lost += (v - t) + s
		}
		s = t
	}
	return s + lost
}

// Center is the mean as the sum of two float64: hi is the mean rounded, lo
// what that left out. Deviations from it, (x-hi)-lo, keep the digits that the
// mean alone cannot hold.
func Center(values []float64) (hi, lo float64) {
	n := float64(len(values))
	hi = Sum(values) / n
	return hi, Sum(Deviations(values, hi, 0)) / n
}

func Deviations(values []float64, hi, lo float64) []float64 {
	d := make([]float64, len(values))
	for i, v := range values {
		d[i] = (v - hi) - lo
	}
	return d
}

// SumOfSquares is the sum of squared deviations from the mean.
func SumOfSquares(values []float64) float64 {
	hi, lo := Center(values)
	return Sum(Squares(Deviations(values, hi, lo)))
}

func Squares(values []float64) []float64 {
	s := make([]float64, len(values))
	for i, v := range values {
		s[i] = v * v
	}
	return s
}

func Mean(values []float64) float64 { return Sum(values) / float64(len(values)) }

// Variance divides by n - 1.
func Variance(values []float64) float64 {
	return SumOfSquares(values) / float64(len(values)-1)
}
