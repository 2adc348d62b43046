package numeric

import (
	"math"
	"testing"

	"padjig/results/stats/reference"
)

func TestBinomialLawSumsAndMean(t *testing.T) {
	for _, n := range []int{1, 7, 4000} {
		for _, p := range []float64{1e-6, 0.03, 0.5, 0.999} {
			law := BinomialLaw(n, p)
			expected := 0.0
			for k, q := range law {
				expected += float64(k) * q
			}
			reference.Agrees(t, 12, float64(n)*p, expected, n, p)
			reference.Agrees(t, 11, math.Pow(1-p, float64(n)), law[0], n, p)
		}
	}
}

// Source: e-Handbook 7.2.4, 26 of 200 against 0.1; the exact tail computed.
func TestBinomialUpperTail(t *testing.T) {
	reference.Agrees(t, 12, 0.10045728651287243, Sum(BinomialLaw(200, 0.1)[26:]))
}

// By hand: a mean of 4 leaves exp(-4) for none, and 4^k/k! times that for k.
func TestPoissonLaw(t *testing.T) {
	law := PoissonLaw(4)
	reference.Agrees(t, 13, math.Exp(-4), law[0])
	reference.Agrees(t, 13, math.Exp(-4)*256/24, law[4])
	reference.Agrees(t, 13, 1, Sum(law))
	reference.Agrees(t, 15, 1, PoissonLaw(0)[0])
}
