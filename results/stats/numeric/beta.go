package numeric

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// BetaQuantile is the beta distribution's quantile: gonum's, then Newton's
// step on the distribution itself until it no longer helps, because the
// inverse alone stops at about twelve digits.
func BetaQuantile(a, b, p float64) float64 {
	x := mathext.InvRegIncBeta(a, b, p)
	law := distuv.Beta{Alpha: a, Beta: b}
	for range 4 {
		density := law.Prob(x)
		if density == 0 || math.IsInf(density, 0) || math.IsNaN(density) {
			return x
		}
		next := x - (mathext.RegIncBeta(a, b, x)-p)/density
		if !(next > 0 && next < 1) || next == x {
			return x
		}
		x = next
	}
	return x
}
