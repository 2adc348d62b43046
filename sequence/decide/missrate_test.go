package decide_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"

	"padjig/sequence/decide"
)

// At the bound, n presses without a miss come in one of twenty units, by the
// binomial distribution itself; the rule of three is never below it, and less
// than a fifth above it from 10 presses on.
func TestMissBound(t *testing.T) {
	for _, n := range []int{1, 2, 3, 10, 30, 100, 300, 1000, 30000, 1e6} {
		exact := decide.MissBound(n)
		assert.InDelta(t, 0.05, distuv.Binomial{N: float64(n), P: exact}.Prob(0), 1e-9, "n = %d", n)
		assert.InDelta(t, 0.05, math.Pow(1-exact, float64(n)), 1e-9, "n = %d", n)
		assert.GreaterOrEqual(t, decide.RuleOfThree(n), exact, "n = %d", n)
		if n >= 10 {
			assert.Less(t, decide.RuleOfThree(n), 1.2*exact, "n = %d", n)
		}
	}
	// 1 - 0.05^(1/300) and 1 - 0.05^(1/30), computed with Python's math.
	assert.InDelta(t, 0.0099360819, decide.MissBound(300), 5e-11)
	assert.InDelta(t, 0.0950339, decide.MissBound(30), 5e-8)
}

func TestPressesFor(t *testing.T) {
	for bound, n := range map[float64]int{0.01: 300, 0.1: 30, 0.001: 3000, 0.05: 60, 0.03: 100, 0.07: 43, 1: 3} {
		assert.Equal(t, n, decide.PressesFor(bound), "%v", bound)
		assert.LessOrEqual(t, decide.RuleOfThree(n), bound*(1+1e-9))
		assert.Greater(t, decide.RuleOfThree(n-1), bound)
	}
}

// The ends of the interval are where the tails of the binomial distribution
// hold 2.5 % each.
func TestMissInterval(t *testing.T) {
	for _, c := range []struct{ k, n int }{{1, 40}, {3, 40}, {20, 40}, {39, 40}, {5, 1000}} {
		low, high := decide.MissInterval(c.k, c.n)
		upTo := func(k int, p float64) float64 { return distuv.Binomial{N: float64(c.n), P: p}.CDF(float64(k)) }
		assert.InDelta(t, 0.025, 1-upTo(c.k-1, low), 1e-8, "%v", c)
		assert.InDelta(t, 0.025, upTo(c.k, high), 1e-8, "%v", c)
	}
	low, high := decide.MissInterval(0, 100)
	assert.Zero(t, low)
	assert.InDelta(t, 1-math.Pow(0.025, 0.01), high, 1e-12)
	low, high = decide.MissInterval(7, 7)
	assert.InDelta(t, math.Pow(0.025, 1.0/7), low, 1e-12)
	assert.Equal(t, 1.0, high)
}
