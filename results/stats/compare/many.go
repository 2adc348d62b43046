package compare

import (
	"math"
	"sort"
)

// Holm adjusts p-values of many tests so that the chance of even one false
// finding among them stays below the level they are then held against (Holm
// 1979). Order is kept. A NaN stays NaN and counts as no test.
func Holm(p []float64) []float64 {
	return adjusted(p, func(sorted []float64) {
		most := 0.0
		for i, v := range sorted {
			most = max(most, v*float64(len(sorted)-i))
			sorted[i] = min(1, most)
		}
	})
}

// BenjaminiHochberg adjusts p-values so that of what is then found at a level,
// at most that share is false on average (1995): the one for looking over all
// keys, where a few false leads cost little. Order and NaN as [Holm].
func BenjaminiHochberg(p []float64) []float64 {
	return adjusted(p, func(sorted []float64) {
		least := 1.0
		for i := len(sorted) - 1; i >= 0; i-- {
			least = min(least, sorted[i]*(float64(len(sorted))/float64(i+1)))
			sorted[i] = least
		}
	})
}

// adjusted hands the p-values over in ascending order and puts what comes
// back in their places.
func adjusted(p []float64, adjust func(sorted []float64)) []float64 {
	out := make([]float64, len(p))
	var order []int
	for i, v := range p {
		out[i] = v
		if !math.IsNaN(v) {
			order = append(order, i)
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return p[order[a]] < p[order[b]] })
	sorted := make([]float64, len(order))
	for i, at := range order {
		sorted[i] = p[at]
	}
	adjust(sorted)
	for i, at := range order {
		out[at] = sorted[i]
	}
	return out
}
