package numeric

import (
	"math"
	"sort"
)

// spreadFromMode turns ratios of neighbouring probabilities into the
// probabilities: it starts with 1 at the mode, walks to both ends and divides
// by the sum. No factorial is ever formed, so that the digits stay also where
// n is in the thousands. ratio(k) is P(k+1)/P(k).
func spreadFromMode(low, high, mode int, ratio func(k int) float64) []float64 {
	p := make([]float64, high-low+1)
	p[mode-low] = 1
	for k := mode; k < high; k++ {
		p[k-low+1] = p[k-low] * ratio(k)
	}
	for k := mode - 1; k >= low; k-- {
		p[k-low] = p[k-low+1] / ratio(k)
	}
	total := Sum(p)
	for i := range p {
		p[i] /= total
	}
	return p
}

// BinomialLaw is the distribution of a count out of n, each with share p.
func BinomialLaw(n int, p float64) []float64 {
	switch {
	case p <= 0:
		return PointAt(n+1, 0)
	case p >= 1:
		return PointAt(n+1, n)
	}
	mode := min(n, int(float64(n+1)*p))
	return spreadFromMode(0, n, mode, func(k int) float64 {
		return float64(n-k) / float64(k+1) * p / (1 - p)
	})
}

// PoissonLaw is the distribution of a count with this mean, up to where what is left is lost
// in rounding.
func PoissonLaw(mean float64) []float64 {
	if mean <= 0 {
		return PointAt(1, 0)
	}
	high := int(mean + 12*math.Sqrt(mean) + 25)
	return spreadFromMode(0, high, int(mean), func(k int) float64 { return mean / float64(k+1) })
}

func PointAt(size, i int) []float64 {
	p := make([]float64, size)
	p[i] = 1
	return p
}

// HypergeometricLaw is the distribution of how many of the marked are among
// drawn out of total, with odds times the chance of an unmarked one; odds of
// 1 is the plain law. Counts less likely than the share lost of the likeliest
// one are left out, as there may be millions; low is that of the first entry.
func HypergeometricLaw(total, marked, drawn int, odds, lost float64) (low int, p []float64) {
	low, high := max(0, drawn-(total-marked)), min(marked, drawn)
	ratio := func(k int) float64 {
		return odds * float64(marked-k) * float64(drawn-k) / (float64(k+1) * float64(total-marked-drawn+k+1))
	}
	mode := low + sort.Search(high-low, func(i int) bool { return ratio(low+i) <= 1 }) // ratios fall
	first, last := mode, mode
	for q := 1.0; first > low && q > lost; first-- {
		q /= ratio(first - 1)
	}
	for q := 1.0; last < high && q > lost; last++ {
		q *= ratio(last)
	}
	return first, spreadFromMode(first, last, mode, ratio)
}

// Underflow is a share of the likeliest probability below which float64 keeps no digits of one.
const Underflow = 1e-290
