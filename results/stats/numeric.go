package stats

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
)

// rule is a Gauss-Legendre rule: nodes on an interval, with weights.
type rule struct{ x, w []float64 }

func legendre(n int, low, high float64) rule {
	r := rule{x: make([]float64, n), w: make([]float64, n)}
	quad.Legendre{}.FixedLocations(r.x, r.w, low, high)
	return r
}

// integrate is the integral of f by the rule.
func (r rule) integrate(f func(float64) float64) float64 {
	terms := make([]float64, len(r.x))
	for i, x := range r.x {
		terms[i] = r.w[i] * f(x)
	}
	return sum(terms)
}

// crossing is the place between low and high where f, monotone, changes sign,
// to the last float64. Without a change of sign it is the end nearer to zero.
// Halving is slow and cannot be fooled; where it is used, f is cheap.
func crossing(low, high float64, f func(float64) float64) float64 {
	atLow, atHigh := f(low), f(high)
	if atLow == 0 || math.Signbit(atLow) == math.Signbit(atHigh) {
		if math.Abs(atLow) <= math.Abs(atHigh) {
			return low
		}
		return high
	}
	for {
		mid := low + (high-low)/2
		if !(low < mid && mid < high) { // also for NaN
			return mid
		}
		if v := f(mid); math.Signbit(v) == math.Signbit(atLow) && v != 0 {
			low = mid
		} else {
			high = mid
		}
	}
}

// upperBracket doubles from start until f changes sign against f(low) or 60
// doublings have passed.
func upperBracket(low, start float64, f func(float64) float64) float64 {
	sign := math.Signbit(f(low))
	high := start
	for i := 0; i < 60 && math.Signbit(f(high)) == sign; i++ {
		high *= 2
	}
	return high
}
