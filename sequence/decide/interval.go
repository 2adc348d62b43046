package decide

import "math"

// Interval is a range of values with both ends in it. An end that is no limit
// is infinite.
type Interval struct{ Low, High float64 }

// AtMost has an upper limit only.
func AtMost(high float64) Interval { return Interval{math.Inf(-1), high} }

// AtLeast has a lower limit only.
func AtLeast(low float64) Interval { return Interval{low, math.Inf(1)} }

// Between has two limits.
func Between(low, high float64) Interval { return Interval{low, high} }

// Contains reports whether x lies in i. It is false for NaN.
func (i Interval) Contains(x float64) bool { return i.Low <= x && x <= i.High }

// Guarded is i with each limit moved inwards by w, or outwards where w is
// negative: the acceptance interval of a tolerance i. It contains nothing when
// w exceeds half of i.
func (i Interval) Guarded(w float64) Interval { return Interval{i.Low + w, i.High - w} }

// share is the probability of i under a distribution moved by shift.
func (i Interval) share(d interface{ CDF(float64) float64 }, shift float64) float64 {
	if i.Low > i.High {
		return 0
	}
	return below(d, i.High-shift) - below(d, i.Low-shift)
}

// below is the distribution function, infinite ends included.
func below(d interface{ CDF(float64) float64 }, x float64) float64 {
	switch {
	case math.IsInf(x, 1):
		return 1
	case math.IsInf(x, -1):
		return 0
	}
	return d.CDF(x)
}

// Decision is what becomes of a reading.
type Decision uint8

// The decisions, from good to bad.
const (
	Accepted Decision = iota
	Doubtful          // inside the tolerance but within the guard band: neither is proved
	Rejected
)

// Decide compares a reading with a tolerance and its acceptance interval.
func Decide(reading float64, tolerance, acceptance Interval) Decision {
	switch {
	case acceptance.Contains(reading):
		return Accepted
	case tolerance.Contains(reading):
		return Doubtful
	}
	return Rejected
}
