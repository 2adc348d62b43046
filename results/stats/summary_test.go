package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/results/stats/numeric"
	"padjig/results/stats/reference"
)

// Source: NIST StRD univariate sets, certified values (seen).
func TestSummaryNISTCertified(t *testing.T) {
	for _, set := range reference.Table(t, "nist_strd_univariate/certified.csv") {
		t.Run(set["dataset"], func(t *testing.T) {
			y := reference.Column(t, reference.Table(t, "nist_strd_univariate/"+set["dataset"]+".csv"), "y")
			s, err := Summarize(y)
			require.NoError(t, err)
			assert.Equal(t, set.Whole(t, "n"), s.N)

			// What a perfect program returns for the data as float64 holds them.
			reference.Agrees(t, 15, set.Num(t, "float64_inputs_mean"), s.Mean, "mean")
			reference.Agrees(t, 15, set.Num(t, "float64_inputs_sd"), s.SD, "sd")

			// The certified values, to what that rounding allows less one
			// digit, and to the 15 digits that they are printed with less one.
			reference.Agrees(t, 14, set.Num(t, "certified_mean"), s.Mean, "certified mean")
			reference.Agrees(t, min(14, set.Num(t, "lre_limit_sd_float64_inputs")-1), set.Num(t, "certified_sd"), s.SD, "certified sd")
		})
	}
}

func TestSummaryOfWhatHasNoAnswer(t *testing.T) {
	_, err := Summarize(nil)
	assert.ErrorIs(t, err, ErrEmpty)
	_, err = Summarize([]float64{1, math.NaN()})
	assert.EqualError(t, err, "value 2 of the list is NaN, which cannot be reckoned with")
	s, err := Summarize([]float64{4})
	require.NoError(t, err)
	assert.True(t, math.IsNaN(s.SD))
}

func sample(least int) *rapid.Generator[[]float64] {
	return rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), least, 60)
}

func TestSummaryOrderDoesNotMatterAndScaleScales(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := sample(2).Draw(t, "y")
		factor := math.Ldexp(1, rapid.IntRange(-20, 20).Draw(t, "power"))
		a, err := Summarize(y)
		require.NoError(t, err)
		scaled := make([]float64, len(y))
		for i, v := range y {
			scaled[i] = v * factor
		}
		source := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 0))
		source.Shuffle(len(scaled), func(i, j int) { scaled[i], scaled[j] = scaled[j], scaled[i] })
		b, err := Summarize(scaled)
		require.NoError(t, err)
		assert.InDelta(t, a.Mean*factor, b.Mean, 1e-9*factor)
		assert.InEpsilon(t, a.SD*factor+1e-300, b.SD+1e-300, 1e-9)
		assert.LessOrEqual(t, b.Min, b.Mean+1e-9*factor)
		assert.GreaterOrEqual(t, b.Max, b.Mean-1e-9*factor)
	})
}

// Of 100 intervals for a known mean, about 95 hold it: 5000 samples of 6,
// binomial error 0.3 per cent.
func TestIntervalsCoverAsStated(t *testing.T) {
	source := rand.New(rand.NewPCG(11, 0))
	const samples = 5000
	meanIn := 0
	for range samples {
		y := make([]float64, 6)
		for i := range y {
			y[i] = 40 + 2*source.NormFloat64()
		}
		if MeanIntervalOf(numeric.Mean(y), math.Sqrt(numeric.Variance(y)), len(y), 0.95).Contains(40) {
			meanIn++
		}
	}
	assert.InDelta(t, 0.95, float64(meanIn)/samples, 0.0125)
}

// Values by hand: h = (n-1)p between order statistics.
func TestQuantile(t *testing.T) {
	y := []float64{15, 20, 35, 40, 50}
	for p, want := range map[float64]float64{0: 15, 0.25: 20, 0.4: 29, 0.5: 35, 1: 50} {
		got, err := Quantile(y, p)
		require.NoError(t, err)
		reference.Agrees(t, 15, want, got)
	}
	_, err := Quantile(y, 1.5)
	assert.ErrorContains(t, err, "between 0 and 1")
	_, err = Quantile(nil, 0.5)
	assert.ErrorIs(t, err, ErrEmpty)
}

func TestHistogramCountsEveryValueOnceInItsBin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := sample(1).Draw(t, "y")
		most := rapid.IntRange(1, 40).Draw(t, "most")
		h, err := NewHistogram(y, most)
		require.NoError(t, err)
		assert.LessOrEqual(t, len(h.Counts), most)
		total := 0
		for _, n := range h.Counts {
			total += n
		}
		assert.Equal(t, len(y), total)
		assert.LessOrEqual(t, h.Low, slices.Min(y))
	})
}

func TestHistogramBinsReadWell(t *testing.T) {
	h, err := NewHistogram([]float64{40.1, 40.4, 40.5, 41.2, 41.9, 42.3, 43.0}, 10)
	require.NoError(t, err)
	assert.Equal(t, Histogram{Low: 40, Width: 2, Counts: []int{5, 2}}, h)
	h, err = NewHistogram([]float64{7, 7, 7}, 10)
	require.NoError(t, err)
	assert.Equal(t, []int{3}, h.Counts)
}
