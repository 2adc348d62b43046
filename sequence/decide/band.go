package decide

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Band is the guard band of a multiple of the expanded uncertainty U = 2u:
// w = multiple * 2u. A multiple of 0 is simple acceptance.
func Band(multiple, u float64) float64 { return multiple * 2 * u }

// MultipleForRisk is the multiple of U = 2u that leaves a reading right at an
// acceptance limit the given specific consumer's risk, for a normal spread
// and one limit: half the normal quantile of 1 - risk. Above a risk of 1/2 it
// is negative.
func MultipleForRisk(risk float64) float64 { return -distuv.UnitNormal.Quantile(risk) / 2 }

// RiskOfMultiple undoes [MultipleForRisk].
func RiskOfMultiple(multiple float64) float64 { return distuv.UnitNormal.CDF(-2 * multiple) }

// BandForRisk is the guard band that leaves a reading right at an acceptance
// limit of the tolerance the given specific consumer's risk, 0 < risk < 1. Of
// two limits the far one counts too. It is not ok when the tolerance is too
// narrow: then a reading right in its middle carries more risk than that.
func BandForRisk(risk float64, tolerance Interval, s Spread) (w float64, ok bool) {
	w, width := -s.Quantile(risk), tolerance.width()
	if math.IsInf(width, 1) {
		return w, true
	}
	atEdge := func(w float64) float64 { return s.CDF(-w) + s.CDF(w-width) }
	if atEdge(width/2) > risk {
		return 0, false
	}
	return falls(atEdge, risk, w, width/2), true
}

// falls finds where f, which falls from low to high, comes down to target.
func falls(f func(float64) float64, target, low, high float64) float64 {
	for range 200 {
		middle := low + (high-low)/2
		if middle <= low || middle >= high {
			break
		}
		if f(middle) > target {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// BreakEvenRisk is the specific risk at which accepting a unit costs as much
// as rejecting it: what it costs to reject a good one, over the sum of that
// and of what it costs to accept a bad one.
func BreakEvenRisk(rejectGood, acceptBad float64) float64 {
	return rejectGood / (rejectGood + acceptBad)
}
