package reference

import (
	"flag"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/mathext"
)

var times = flag.Int("claims", 1, "simulate so many times as many cases for each claim of the statistics")

// Cases is how many cases to simulate where n are enough among all tests.
func Cases(n int) int { return n * *times }

// Rare is the chance at which a count speaks against a claim: what is counted must lie within
// the exact binomial limits of the claim (Clopper and Pearson 1934, turned round), one in a
// thousand beyond each. Seeds are fixed, so that a claim that holds holds each time.
const Rare = 0.001

// AtLeast holds a claim that something happens at least with a probability.
func AtLeast(t *testing.T, claimed float64, hits, of int, what ...any) {
	t.Helper()
	t.Logf("%v: %d of %d, %.4f; claimed: at least %.4f", what, hits, of, float64(hits)/float64(of), claimed)
	if fewer(hits, of, claimed) < Rare {
		assert.Fail(t, "less often than claimed", "%d of %d, %.4f, where at least %.4f is claimed %v", hits, of, float64(hits)/float64(of), claimed, what)
	}
}

// AtMost holds a claim that something happens at most with a probability.
func AtMost(t *testing.T, claimed float64, hits, of int, what ...any) {
	t.Helper()
	t.Logf("%v: %d of %d, %.4f; claimed: at most %.4f", what, hits, of, float64(hits)/float64(of), claimed)
	if fewer(of-hits, of, 1-claimed) < Rare {
		assert.Fail(t, "more often than claimed", "%d of %d, %.4f, where at most %.4f is claimed %v", hits, of, float64(hits)/float64(of), claimed, what)
	}
}

// Exactly holds a claim that something happens with a probability.
func Exactly(t *testing.T, claimed float64, hits, of int, what ...any) {
	t.Helper()
	AtLeast(t, claimed, hits, of, what...)
	AtMost(t, claimed, hits, of, what...)
}

// fewer is the binomial probability of at most so many.
func fewer(hits, of int, p float64) float64 {
	switch {
	case hits >= of || p <= 0:
		return 1
	case p >= 1:
		return 0
	}
	return mathext.RegIncBeta(float64(of-hits), float64(hits+1), 1-p)
}
