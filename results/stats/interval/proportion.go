// Package interval is what is known of a share, of a count, and of where most of a
// population lies: confidence intervals and tolerance intervals.
package interval

import (
	"math"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
)

// Wilson is the score interval for the share behind x of n (Wilson 1927):
// the shares p that a normal test of x against n p does not reject. It is the
// one to show: its coverage is near the stated confidence on average, and it
// behaves at 0 of n. Errors: n = 0, x outside 0..n, confidence outside 0..1;
// the same for all intervals of this file.
func Wilson(x, n int, confidence float64) (stats.Interval, error) {
	if err := checkShare(x, n, confidence); err != nil {
		return stats.Interval{}, err
	}
	z, k, N := numeric.TwoSided(confidence), float64(x), float64(n)
	mid := (k + z*z/2) / (N + z*z)
	half := z / (N + z*z) * math.Sqrt(k*(N-k)/N+z*z/4)
	return pinned(stats.Around(mid, half, confidence), x, n), nil
}

// ClopperPearson is the exact interval (Clopper and Pearson 1934): the shares
// that an exact binomial test of half the risk at each end does not reject.
// It never covers less than stated, which is what an audit asks, and is wide.
// Its ends are beta quantiles.
func ClopperPearson(x, n int, confidence float64) (stats.Interval, error) {
	if err := checkShare(x, n, confidence); err != nil {
		return stats.Interval{}, err
	}
	risk := (1 - confidence) / 2
	return stats.Interval{Low: exactLow(x, n, risk), High: exactHigh(x, n, risk), Confidence: confidence}, nil
}

func exactLow(x, n int, risk float64) float64 {
	if x == 0 {
		return 0
	}
	if x == n {
		return math.Exp(math.Log(risk) / float64(n))
	}
	return numeric.BetaQuantile(float64(x), float64(n-x+1), risk)
}

func exactHigh(x, n int, risk float64) float64 {
	if x == n {
		return 1
	}
	if x == 0 {
		return -math.Expm1(math.Log(risk) / float64(n))
	}
	return 1 - numeric.BetaQuantile(float64(n-x), float64(x+1), risk)
}

// pinned sets the end that a count of none or all leaves no doubt about.
func pinned(i stats.Interval, x, n int) stats.Interval {
	if x == 0 {
		i.Low = 0
	}
	if x == n {
		i.High = 1
	}
	return i
}

// CountInterval is the exact interval for the mean behind a count of rare
// things (Garwood 1936): chi2(2x)/2 to chi2(2x+2)/2. Divide it by the number
// of units for a rate. Errors: x < 0, confidence outside 0..1.
func CountInterval(x int, confidence float64) (stats.Interval, error) {
	if x < 0 {
		return stats.Interval{}, &stats.CountError{X: x}
	}
	if err := stats.CheckConfidence(confidence); err != nil {
		return stats.Interval{}, err
	}
	risk := (1 - confidence) / 2
	i := stats.Interval{High: numeric.ChiQuantile(1-risk, float64(2*x+2)) / 2, Confidence: confidence}
	if x > 0 {
		i.Low = numeric.ChiQuantile(risk, float64(2*x)) / 2
	}
	return i, nil
}

func checkShare(x, n int, confidence float64) error {
	if err := stats.CheckProportion(x, n); err != nil {
		return err
	}
	return stats.CheckConfidence(confidence)
}
