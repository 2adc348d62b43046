package pattern

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// key is how likely a key fails by its actuator and by itself.
var key = Prior{Jig: 5e-5, Unit: 1e-3}

// share is the part of the failures at the place that is the jig's.
func share(c Counts) float64 {
	o := key.After(c)
	return o.Jig / (o.Jig + o.Unit)
}

// What the counts say in plain cases.
func TestWhatCountsSay(t *testing.T) {
	base := key.Jig / (key.Jig + key.Unit)
	for name, c := range map[string]struct {
		counts    Counts
		low, high float64
	}{
		"nothing before":             {Counts{0, 12, 0, 240}, base, base},
		"nobody before":              {Counts{}, base, base},
		"five of six, none of 212":   {Counts{5, 6, 0, 212}, 0.98, 1},
		"one of twelve, none of 240": {Counts{1, 12, 0, 240}, base, 0.10},
		"two of twelve, none of 240": {Counts{2, 12, 0, 240}, 0.5, 0.9},
		"a bad lot on both jigs":     {Counts{5, 12, 100, 240}, 0, 0.001},
		"a bad lot, few elsewhere":   {Counts{5, 12, 3, 8}, 0, 0.05},
		"once on one jig alone":      {Counts{1, 1, 0, 0}, base, base},
		"one jig alone":              {Counts{5, 12, 0, 0}, 0, 2 * base},
		"one jig alone, always":      {Counts{12, 12, 0, 0}, 0, 2 * base},
		"only elsewhere":             {Counts{0, 12, 30, 240}, 0, base},
		"the same everywhere":        {Counts{1, 12, 20, 240}, 0, base},
	} {
		t.Run(name, func(t *testing.T) {
			got := share(c.counts)
			assert.GreaterOrEqual(t, got, c.low-1e-12)
			assert.LessOrEqual(t, got, c.high+1e-12)
		})
	}
}

// More failures here speak for the jig more, more elsewhere less, and nothing comes out of
// range, whatever the counts.
func TestOddsAreOrderly(t *testing.T) {
	for _, n := range []int{1, 6, 12, 50} {
		for _, m := range []int{0, 5, 240, 5000} {
			for y := 0; y <= m; y += max(1, m/4) {
				last := 0.0
				for x := 1; x <= n; x++ {
					o := key.After(Counts{x, n, y, m})
					for _, p := range []float64{o.Jig, o.Unit, o.Failing, o.Lot} {
						assert.False(t, math.IsNaN(p) || p < 0 || p > 1, "%d of %d, %d of %d: %+v", x, n, y, m, o)
					}
					if y == 0 && m > 0 {
						assert.GreaterOrEqual(t, o.Failing, last-1e-12, "%d of %d, %d of %d", x, n, y, m)
						last = o.Failing
					}
				}
			}
		}
	}
}

// The beta-binomial law against a published value: with a uniform rate every count of n is
// as likely as any other, 1/(n+1) (Bayes 1763).
func TestUniformRateMakesCountsAlike(t *testing.T) {
	for x := range 8 {
		assert.InDelta(t, 1.0/8, math.Exp(lnChoose(7, float64(x))+lnBeta(float64(x)+1, 7-float64(x)+1)), 1e-12)
	}
	assert.InDelta(t, 792, math.Exp(lnChoose(12, 5)), 1e-8)
}
