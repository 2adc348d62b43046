package stats

import "math"

// sum adds with the running error kept apart (Neumaier 1974): the result is
// right to a unit in the last place however the terms cancel, short of
// cancellation by 1e16.
func sum(values []float64) float64 {
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

// center is the mean as the sum of two float64: hi is the mean rounded, lo
// what that left out. Deviations from it, (x-hi)-lo, keep the digits that the
// mean alone cannot hold.
func center(values []float64) (hi, lo float64) {
	n := float64(len(values))
	hi = sum(values) / n
	return hi, sum(deviations(values, hi, 0)) / n
}

func deviations(values []float64, hi, lo float64) []float64 {
	d := make([]float64, len(values))
	for i, v := range values {
		d[i] = (v - hi) - lo
	}
	return d
}

// sumOfSquares is the sum of squared deviations from the mean.
func sumOfSquares(values []float64) float64 {
	hi, lo := center(values)
	return sum(squares(deviations(values, hi, lo)))
}

func squares(values []float64) []float64 {
	s := make([]float64, len(values))
	for i, v := range values {
		s[i] = v * v
	}
	return s
}

func mean(values []float64) float64 { return sum(values) / float64(len(values)) }

// variance divides by n - 1.
func variance(values []float64) float64 {
	return sumOfSquares(values) / float64(len(values)-1)
}
