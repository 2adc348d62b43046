package stats

import "gonum.org/v1/gonum/stat/distuv"

// An Interval holds a parameter with a stated confidence. One that is open on
// a side has an infinity there.
type Interval struct {
	Low, High  float64
	Confidence float64
}

// Contains reports whether x lies in the interval, ends included.
func (i Interval) Contains(x float64) bool { return i.Low <= x && x <= i.High }

// around is center plus and minus half.
func around(center, half, confidence float64) Interval {
	return Interval{Low: center - half, High: center + half, Confidence: confidence}
}

// twoSided is the normal quantile that leaves (1 - confidence)/2 above it.
func twoSided(confidence float64) float64 {
	return -distuv.UnitNormal.Quantile((1 - confidence) / 2)
}

// upperTail is the chance that a standard normal value lies above x. gonum's
// Survival subtracts from one and has no digits left beyond 8 sigma.
func upperTail(x float64) float64 { return distuv.UnitNormal.CDF(-x) }
