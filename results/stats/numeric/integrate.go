package numeric

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
)

// Quadrature is a Gauss-Legendre rule: nodes on an interval, with weights.
type Quadrature struct{ X, Weight []float64 }

// Legendre is the rule of n nodes on an interval. Its nodes take longer to find than most of what is integrated: up to a size they
// are found once, and moved.
func Legendre(n int, low, high float64) Quadrature {
	if n >= len(unitRules) {
		return legendre(n, low, high)
	}
	unit, r := unitRules[n](), Quadrature{X: make([]float64, n), Weight: make([]float64, n)}
	half, middle := (high-low)/2, (high+low)/2
	for i := range n {
		r.X[i], r.Weight[i] = middle+half*unit.X[i], half*unit.Weight[i]
	}
	return r
}

var unitRules = func() (rules [129]func() Quadrature) {
	for n := range rules {
		rules[n] = sync.OnceValue(func() Quadrature { return legendre(n, -1, 1) })
	}
	return rules
}()

func legendre(n int, low, high float64) Quadrature {
	r := Quadrature{X: make([]float64, n), Weight: make([]float64, n)}
	quad.Legendre{}.FixedLocations(r.X, r.Weight, low, high)
	return r
}

// Integrate is the integral of f by the rule.
func (r Quadrature) Integrate(f func(float64) float64) float64 {
	terms := make([]float64, len(r.X))
	for i, x := range r.X {
		terms[i] = r.Weight[i] * f(x)
	}
	return Sum(terms)
}

// Crossing is the place between low and high where f, monotone, changes sign,
// to the last float64. Without a change of sign it is the end nearer to zero.
// Halving is slow and cannot be fooled; where it is used, f is cheap.
func Crossing(low, high float64, f func(float64) float64) float64 {
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

// UpperBracket doubles from start until f changes sign against f(low) or 60
// doublings have passed.
func UpperBracket(low, start float64, f func(float64) float64) float64 {
	sign := math.Signbit(f(low))
	high := start
	for i := 0; i < 60 && math.Signbit(f(high)) == sign; i++ {
		high *= 2
	}
	return high
}
