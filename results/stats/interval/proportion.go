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

// WilsonCorrected is [Wilson] with continuity correction (Newcombe 1998,
// method 4): wider, and seldom short of the stated confidence.
func WilsonCorrected(x, n int, confidence float64) (stats.Interval, error) {
	if err := checkShare(x, n, confidence); err != nil {
		return stats.Interval{}, err
	}
	return pinned(stats.Interval{
		Low:        correctedLow(x, n, numeric.TwoSided(confidence)),
		High:       1 - correctedLow(n-x, n, numeric.TwoSided(confidence)),
		Confidence: confidence,
	}, x, n), nil
}

func correctedLow(x, n int, z float64) float64 {
	k, N := float64(x), float64(n)
	p := k / N
	root := math.Sqrt(z*z - 2 - 1/N + 4*p*(N*(1-p)+1))
	return max(0, (2*k+z*z-1-z*root)/(2*(N+z*z)))
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

// ClopperPearsonUpper is the exact bound that the share does not exceed.
func ClopperPearsonUpper(x, n int, confidence float64) (float64, error) {
	if err := checkShare(x, n, confidence); err != nil {
		return 0, err
	}
	return exactHigh(x, n, 1-confidence), nil
}

// ClopperPearsonLower is the exact bound that the share does not fall below.
func ClopperPearsonLower(x, n int, confidence float64) (float64, error) {
	if err := checkShare(x, n, confidence); err != nil {
		return 0, err
	}
	return exactLow(x, n, 1-confidence), nil
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

// AgrestiCoull adds z^2/2 to either count and takes the plain normal interval
// (Agresti and Coull 1998), cut to 0..1. Easy to check by hand.
func AgrestiCoull(x, n int, confidence float64) (stats.Interval, error) {
	if err := checkShare(x, n, confidence); err != nil {
		return stats.Interval{}, err
	}
	raw := agrestiCoullRaw(x, n, confidence)
	return stats.Interval{Low: max(0, raw.Low), High: min(1, raw.High), Confidence: confidence}, nil
}

func agrestiCoullRaw(x, n int, confidence float64) stats.Interval {
	z := numeric.TwoSided(confidence)
	N := float64(n) + z*z
	p := (float64(x) + z*z/2) / N
	return stats.Around(p, z*math.Sqrt(p*(1-p)/N), confidence)
}

// Jeffreys is the equal-tailed interval of the beta posterior after the prior
// Beta(1/2, 1/2), with the ends of Brown, Cai and DasGupta (2001): 0 of n
// starts at 0, n of n ends at 1.
func Jeffreys(x, n int, confidence float64) (stats.Interval, error) {
	if err := checkShare(x, n, confidence); err != nil {
		return stats.Interval{}, err
	}
	return pinned(jeffreysRaw(x, n, confidence), x, n), nil
}

func jeffreysRaw(x, n int, confidence float64) stats.Interval {
	a, b := float64(x)+0.5, float64(n-x)+0.5
	risk := (1 - confidence) / 2
	return stats.Interval{Low: numeric.BetaQuantile(a, b, risk), High: 1 - numeric.BetaQuantile(b, a, risk), Confidence: confidence}
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
