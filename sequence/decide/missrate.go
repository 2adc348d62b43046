package decide

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// How often does a contact miss that was never seen to miss? The presses are
// taken to be independent, each missing with the same probability.

// RuleOfThree is the rate that n presses without a miss bound with 95 %
// confidence, as it is remembered: 3/n ("rule of three", Hanley and
// Lippman-Hand, JAMA 249, 1983, from memory). It is a little above [MissBound].
func RuleOfThree(n int) float64 { return 3 / float64(n) }

// MissBound is the same bound exactly: the rate at which n presses without a
// miss would be seen in one of twenty units, 1 - 0.05^(1/n).
func MissBound(n int) float64 { return -math.Expm1(math.Log(1-Confidence) / float64(n)) }

// PressesFor is how many presses without a miss bound the rate as asked, by the
// rule of three.
func PressesFor(bound float64) int {
	const rounding = 1e-9 // 3/0.01 is 300, whatever binary makes of it
	return int(math.Ceil(3/bound - rounding))
}

// Confidence of the bounds and intervals on rates.
const Confidence = 0.95

// MissInterval is the interval in which the rate lies with 95 % confidence
// after k misses in n presses, the number of presses not depending on the
// misses (Clopper and Pearson, Biometrika 26, 1934, from memory: the rates at
// which as few, and as many, are seen in one of forty units).
func MissInterval(k, n int) (low, high float64) {
	const tail = (1 - Confidence) / 2
	low, high = 0, 1
	if k > 0 {
		low = distuv.Beta{Alpha: float64(k), Beta: float64(n - k + 1)}.Quantile(tail)
	}
	if k < n {
		high = distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(1 - tail)
	}
	return low, high
}
