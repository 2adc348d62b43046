package interval

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
	"padjig/results/stats/reference"
)

// Source: computed to 12 digits with the noncentral t (R qt) and a double
// integral, checked there with 20 million simulated samples. The one-sided
// factors of two values for 0.99 and 0.999 at 0.99 have only 8 and 6 digits
// there, as [TestNoncentralTOfOneDegree] shows by a third way.
func TestToleranceFactorsComputed(t *testing.T) {
	for _, r := range reference.Table(t, "tables/tolerance_factors.csv") {
		n, p, conf := r.Whole(t, "n"), r.Num(t, "coverage"), r.Num(t, "confidence")
		k1, err := ToleranceFactorOneSided(n, p, conf)
		require.NoError(t, err)
		digits := 10.0
		if n == 2 && p >= 0.99 && conf == 0.99 {
			digits = 5.9
		}
		reference.Agrees(t, digits, r.Num(t, "k1_exact"), k1, r)
		k2, err := ToleranceFactorTwoSided(n, p, conf)
		require.NoError(t, err)
		reference.Agrees(t, 9.5, r.Num(t, "k2_exact"), k2, r)
		reference.Agrees(t, 11, r.Num(t, "k2_howe"), ToleranceFactorHowe(n, p, conf), r)
	}
}

// With one degree of freedom T > t says Z1 + delta > t |Z2|: a wedge, here
// integrated over u = t |Z2| by Simpson's rule.
func TestNoncentralTOfOneDegree(t *testing.T) {
	for _, coverage := range []float64{0.9, 0.99, 0.999} {
		k, err := ToleranceFactorOneSided(2, coverage, 0.99)
		require.NoError(t, err)
		at, delta := k*math.Sqrt2, distuv.UnitNormal.Quantile(coverage)*math.Sqrt2
		f := func(u float64) float64 { return distuv.UnitNormal.Prob(u/at) * distuv.UnitNormal.CDF(delta-u) }
		const steps, end = 20_000, 14.0
		terms := []float64{f(0), f(end)}
		for i := 1; i < steps; i++ {
			terms = append(terms, float64(2+2*(i%2))*f(end*float64(i)/steps))
		}
		reference.Agrees(t, 10, 0.01, 2/at*numeric.Sum(terms)*end/steps/3, coverage)
	}
}

// Source: e-Handbook 7.2.6.3, ISO 16269-6, Odeh and Owen and others, with the
// marks in the file. Held to the last printed place, one unit up for tables
// that round upward.
func TestToleranceFactorsPublished(t *testing.T) {
	exact := func(f func(int, float64, float64) (float64, error)) func(int, float64, float64) float64 {
		return func(n int, p, c float64) float64 {
			k, err := f(n, p, c)
			require.NoError(t, err)
			return k
		}
	}
	factors := map[string]func(int, float64, float64) float64{
		"k1_exact": exact(ToleranceFactorOneSided), "k2_exact": exact(ToleranceFactorTwoSided),
		"k2_howe": ToleranceFactorHowe,
	}
	for _, r := range reference.Table(t, "tables/tolerance_published.csv") {
		_, fraction, _ := strings.Cut(r["published"], ".")
		factor, ours := factors[r["factor"]]
		if !ours {
			continue
		}
		got := factor(r.Whole(t, "n"), r.Num(t, "coverage"), r.Num(t, "confidence"))
		reference.Printed(t, len(fraction), 0.5, r.Num(t, "published"), got, r)
	}
	var handbook struct {
		Section struct{ Computed map[string]float64 } `json:"tolerance_7_2_6_3"`
	}
	reference.JSON(t, "handbook/expected.json", &handbook)
	want := handbook.Section.Computed
	reference.Agrees(t, 11, want["k2_exact"], factors["k2_exact"](43, 0.9, 0.99))
	reference.Agrees(t, 12, want["k2_howe"], ToleranceFactorHowe(43, 0.9, 0.99))
	reference.Agrees(t, 11, want["k1_exact"], factors["k1_exact"](43, 0.9, 0.99))
	reference.Agrees(t, 11, want["k1_exact_n6"], factors["k1_exact"](6, 0.9, 0.99))
}

// Source: e-Handbook 7.2.6.4 (seen) and sample sizes computed.
func TestDistributionFreeTolerance(t *testing.T) {
	var want struct {
		Published map[string]string           `json:"confidence_N25_published"`
		Computed  map[string]reference.Number `json:"confidence_N25_computed"`
		Sizes     []struct {
			Coverage, Confidence float64
			One                  int              `json:"n_one_sided_extreme"`
			OneConfidence        reference.Number `json:"conf_at_n1"`
			Two                  int              `json:"n_two_sided_min_max"`
			TwoConfidence        reference.Number `json:"conf_at_n2"`
		} `json:"sample_sizes"`
	}
	reference.JSON(t, "tables/distribution_free_tolerance.json", &want)
	for text, confidence := range want.Computed {
		left, got := mostLeft(25, reference.Row{"p": text}.Num(t, "p"), float64(confidence)*(1-1e-12))
		assert.Equal(t, 2, left, "smallest to largest")
		reference.Agrees(t, 12, float64(confidence), got, text)
		reference.Printed(t, 3, 0, reference.Row{"p": want.Published[text]}.Num(t, "p"), got, text)
	}
	for _, s := range want.Sizes {
		one, err := NonparametricSampleSize(OnlyUpper, s.Coverage, s.Confidence)
		require.NoError(t, err)
		assert.Equal(t, s.One, one)
		left, reached := mostLeft(one, s.Coverage, s.Confidence)
		assert.Equal(t, 1, left)
		reference.Agrees(t, 12, float64(s.OneConfidence), reached)
		two, err := NonparametricSampleSize(BothSides, s.Coverage, s.Confidence)
		require.NoError(t, err)
		assert.Equal(t, s.Two, two)
		left, reached = mostLeft(two, s.Coverage, s.Confidence)
		assert.Equal(t, 2, left)
		reference.Agrees(t, 12, float64(s.TwoConfidence), reached)
	}
}

// The promise of both intervals, tried out: how often they hold the share of
// the population they claim. 1500 samples of 60, binomial error 0.8 per cent.
func TestToleranceIntervalsCover(t *testing.T) {
	source := rand.New(rand.NewPCG(41, 0))
	const samples, n = 1500, 60
	k1, err := ToleranceFactorOneSided(n, 0.9, 0.9)
	require.NoError(t, err)
	k2, err := ToleranceFactorTwoSided(n, 0.9, 0.9)
	require.NoError(t, err)
	held := map[string]int{}
	for range samples {
		y := make([]float64, n)
		for i := range y {
			y[i] = source.NormFloat64()
		}
		s, err := stats.Summarize(y)
		require.NoError(t, err)
		hold := func(name string, low, high float64) {
			if 1-numeric.UpperTail(high)-numeric.UpperTail(-low) >= 0.9 {
				held[name]++
			}
		}
		hold("normal both", s.Mean-k2*s.SD, s.Mean+k2*s.SD)
		hold("normal upper", math.Inf(-1), s.Mean+k1*s.SD)
		for name, side := range map[string]Side{"free both": BothSides, "free upper": OnlyUpper, "free lower": OnlyLower} {
			tol, err := NonparametricTolerance(y, side, 0.9, 0.9)
			require.NoError(t, err)
			hold(name, tol.Low, tol.High)
			assert.GreaterOrEqual(t, tol.Reached, 0.9)
		}
	}
	assert.Len(t, held, 5)
	for name, count := range held {
		share := float64(count) / samples
		assert.GreaterOrEqual(t, share, 0.9-0.032, name)
		if strings.HasPrefix(name, "normal") {
			assert.LessOrEqual(t, share, 0.9+0.032, name)
		}
	}
}

func TestToleranceHandbookData(t *testing.T) {
	y := reference.Column(t, reference.Table(t, "handbook/tolerance_100ohm.csv"), "y_ohm_cm")
	s, err := stats.Summarize(y)
	require.NoError(t, err)
	reference.Agrees(t, 6, 97.06984, s.Mean)
	reference.Agrees(t, 5.5, 0.0267981, s.SD)
	tol, err := NormalTolerance(y, BothSides, 0.9, 0.99)
	require.NoError(t, err)
	reference.Agrees(t, 12, s.Mean+tol.Factor*s.SD, tol.High)
}

func TestToleranceThatHasNoAnswer(t *testing.T) {
	_, err := NormalTolerance([]float64{1}, BothSides, 0.9, 0.95)
	assert.EqualError(t, err, "1 value where at least 2 are needed")
	_, err = NormalTolerance([]float64{1, 1}, BothSides, 0.9, 0.95)
	assert.ErrorIs(t, err, stats.ErrNoSpread)
	_, err = NormalTolerance([]float64{1, 2}, BothSides, 90, 0.95)
	assert.ErrorContains(t, err, "share to cover")
	_, err = NonparametricTolerance(make([]float64, 20), BothSides, 0.9, 0.95)
	assert.EqualError(t, err, "20 values where at least 46 are needed")
	_, err = NonparametricTolerance([]float64{math.NaN()}, OnlyUpper, 0.9, 2)
	assert.ErrorIs(t, err, stats.ErrConfidence)
}
