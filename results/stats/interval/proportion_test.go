package interval

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
	"padjig/results/stats/reference"
)

type proportionMethod func(x, n int, confidence float64) (stats.Interval, error)

// Source: computed with mpmath to 15 digits, statsmodels agrees to 2e-15. To 12
// digits, less for large n: beta quantiles rest on logarithms of gamma
// functions, which are of size n ln n and keep the absolute rounding of that.
func TestProportionIntervalsComputed(t *testing.T) {
	methods := map[string]proportionMethod{
		"wilson": Wilson, "clopper_pearson": ClopperPearson,
	}
	for _, r := range reference.Table(t, "intervals/binomial_intervals.csv") {
		x, n, conf := r.Whole(t, "x"), r.Whole(t, "n"), r.Num(t, "conf")
		digits := min(12, 14.5-math.Log10(float64(n)))
		for name, method := range methods {
			i, err := method(x, n, conf)
			require.NoError(t, err)
			reference.Agrees(t, digits, r.Num(t, name+"_lo"), i.Low, name, x, n, conf)
			reference.Agrees(t, digits, r.Num(t, name+"_hi"), i.High, name, x, n, conf)
		}
	}
}

// Source: Newcombe 1998, Conover's tables, e-Handbook 7.2.4.1, as marked in
// the file; the handbook's 0.401029 is one unit high in its last place.
func TestProportionIntervalsPublished(t *testing.T) {
	methods := map[string]proportionMethod{"wilson": Wilson, "clopper_pearson": ClopperPearson}
	for _, r := range reference.Table(t, "intervals/published.csv") {
		method, ours := methods[r["method"]]
		if !ours {
			continue
		}
		i, err := method(r.Whole(t, "x"), r.Whole(t, "n"), r.Num(t, "conf"))
		require.NoError(t, err)
		for end, got := range map[string]float64{"published_lo": i.Low, "published_hi": i.High} {
			if r[end] != "" {
				decimals := len(r[end]) - len("0.")
				reference.Printed(t, decimals, 0.6, r.Num(t, end), got, r)
			}
		}
	}
}

func TestProportionThatCannotBe(t *testing.T) {
	for name, method := range map[string]proportionMethod{
		"Wilson": Wilson, "ClopperPearson": ClopperPearson,
	} {
		_, err := method(0, 0, 0.95)
		assert.ErrorIs(t, err, stats.ErrEmpty, name)
		_, err = method(5, 4, 0.95)
		assert.EqualError(t, err, "5 of 4 is no proportion", name)
		_, err = method(1, 4, 95)
		assert.ErrorIs(t, err, stats.ErrConfidence, name)
	}
}

func TestProportionIntervalsBracketAndMirror(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 5000).Draw(t, "n")
		x := rapid.IntRange(0, n).Draw(t, "x")
		conf := rapid.Float64Range(0.5, 0.999).Draw(t, "confidence")
		share := float64(x) / float64(n)
		for _, method := range []proportionMethod{Wilson, ClopperPearson} {
			i, err := method(x, n, conf)
			require.NoError(t, err)
			assert.True(t, 0 <= i.Low && i.Low <= share+1e-12 && share-1e-12 <= i.High && i.High <= 1, "%v %v", i, share)
			mirror, err := method(n-x, n, conf)
			require.NoError(t, err)
			assert.InDelta(t, i.Low, 1-mirror.High, 1e-12)
		}
	})
}

// The exact interval's promise, tried out on the law itself: it never covers
// less than stated.
func TestClopperPearsonNeverCoversLess(t *testing.T) {
	const n = 40
	var intervals [n + 1]stats.Interval
	for x := range intervals {
		var err error
		intervals[x], err = ClopperPearson(x, n, 0.95)
		require.NoError(t, err)
	}
	for p := 0.005; p < 1; p += 0.005 {
		covered := 0.0
		for x, prob := range numeric.BinomialLaw(n, p) {
			if intervals[x].Contains(p) {
				covered += prob
			}
		}
		assert.GreaterOrEqual(t, covered, 0.95-1e-12, "p %v", p)
	}
}

// Garwood's promise: P(X >= x) at the low end and P(X <= x) at the high end
// are half the risk each. Checked with the Poisson law, not the
// chi-square they were computed by.
func TestCountInterval(t *testing.T) {
	for _, x := range []int{0, 1, 3, 10, 57, 200} {
		i, err := CountInterval(x, 0.95)
		require.NoError(t, err)
		assert.InDelta(t, 0.025, distuv.Poisson{Lambda: i.High}.CDF(float64(x)), 1e-12)
		if x == 0 {
			assert.Zero(t, i.Low)
			continue
		}
		assert.InDelta(t, 0.025, 1-distuv.Poisson{Lambda: i.Low}.CDF(float64(x-1)), 1e-12)
	}
	_, err := CountInterval(-1, 0.95)
	assert.Error(t, err)
}
