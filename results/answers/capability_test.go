package answers

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/stats"
	"padjig/results/stats/capability"
)

// A set of limits has one identity wherever it is drawn, and no two charts that
// cannot share limits have the same.
func TestIdentityTellsChartsApart(t *testing.T) {
	same := Identity{Product: "h1", Measure: results.Closed, Keys: "7", Jigs: "J-0043", Chart: XbarS, Subgroup: "5"}
	names := map[string]bool{same.String(): true}
	for _, change := range []func(*Identity){
		func(i *Identity) { i.Product = "h2" }, func(i *Identity) { i.Measure = results.Make }, func(i *Identity) { i.Keys = "8" },
		func(i *Identity) { i.Jigs = "J-0041" }, func(i *Identity) { i.Jigs = "" }, func(i *Identity) { i.Chart = IMR },
		func(i *Identity) { i.Chart = XbarR }, func(i *Identity) { i.Subgroup = "hour" }, func(i *Identity) { i.Subgroup = "4" },
		func(i *Identity) { i.Press = "hand" }, func(i *Identity) { i.Finding = "key high" },
	} {
		other := same
		change(&other)
		assert.False(t, names[other.String()], "%s", other)
		names[other.String()] = true
	}
}
func TestCapabilityOfOddKeys(t *testing.T) {
	limits := [2]float64{0, 200}
	rows := capabilities([]keyReadings{{Key: "7", Limits: limits, Values: flow}, {Key: "8", Values: flow},
		{Key: "9", Limits: limits, Values: []float64{5, 5, 5, 5, 5, 5, 5, 5, 5, 5}}, {Key: "1", Limits: limits,
			Values: []float64{60}}}, 0.95)
	require.NoError(t, rows[0].Why)
	assert.ErrorIs(t, rows[1].Why, ErrNoLimits)
	assert.ErrorIs(t, rows[2].Why, stats.ErrNoSpread)
	few := new(stats.TooFewError)
	assert.ErrorAs(t, rows[3].Why, &few)
}

// Readings that are not normal have their Ppk from percentiles, and expect no ppm.
func TestCapabilityDecidesByNormality(t *testing.T) {
	skewed := make([]float64, 200)
	for i := range skewed {
		skewed[i] = 60 + 0.001*float64(i*i)
	}
	k := keyReadings{Key: "7", Limits: [2]float64{0, 200}, Values: skewed}.capability(0.95)
	require.NoError(t, k.Why)
	assert.Equal(t, ByPercentiles, k.Method)
	assert.NotEqual(t, k.ExpectedPPM, k.ExpectedPPM, "no ppm is expected of no normal distribution")
	p, err := capability.PercentileCapability(skewed, capability.AtMost(200), 0.95, resamples, bootstrapSeed)
	require.NoError(t, err)
	assert.InDelta(t, p.Did.Worst, k.Ppk.Value, 0)
}
