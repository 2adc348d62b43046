// Package numeric is what the statistics are reckoned with, where the libraries lose
// digits: sums, quantiles, discrete laws, integration and roots.
package numeric

import "math"

// Sum adds with the running error kept apart (Neumaier 1974): the result is
// right to a unit in the last place however the terms cancel, short of
// cancellation by 1e16.
func Sum(values []float64) float64 {
	var all running
	for _, v := range values {
		all.add(v)
	}
	return all.sum()
}

// running is a sum in the making.
type running struct{ s, lost float64 }

func (r *running) add(v float64) {
	t := r.s + v
	if math.Abs(r.s) >= math.Abs(v) {
		r.lost += (r.s - t) + v
	} else {
		r.lost += (v - t) + r.s
	}
	r.s = t
}

func (r *running) sum() float64 { return r.s + r.lost }

// Center is the mean as the sum of two float64: hi is the mean rounded, lo
// what that left out. Deviations from it, (x-hi)-lo, keep the digits that the
// mean alone cannot hold.
func Center(values []float64) (hi, lo float64) {
	n := float64(len(values))
	hi = Sum(values) / n
	var off running
	for _, v := range values {
		off.add(v - hi)
	}
	return hi, off.sum() / n
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
	var all running
	for _, v := range values {
		d := (v - hi) - lo
		all.add(float64(d * d)) // rounded here, on every processor
	}
	return all.sum()
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
