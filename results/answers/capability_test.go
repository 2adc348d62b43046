package answers

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/stats"
	"padjig/results/stats/capability"
)

// Flow rate data of the e-Handbook, 6.3.2.2 (seen there).
var flow = []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}

func TestCapabilityOfOddKeys(t *testing.T) {
	limits := [2]float64{0, 200}
	rows := capabilities([]keyReadings{{Key: "7", Limits: limits, Values: flow}, {Key: "8", Values: flow},
		{Key: "9", Limits: limits, Values: []float64{5, 5, 5, 5, 5, 5, 5, 5, 5, 5}}, {Key: "1", Limits: limits,
			Values: []float64{60}}}, 0.95, false)
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
	k := keyReadings{Key: "7", Limits: [2]float64{0, 200}, Values: skewed}.capability(0.95, false)
	require.NoError(t, k.Why)
	assert.Equal(t, ByPercentiles, k.Method)
	assert.NotEqual(t, k.ExpectedPPM, k.ExpectedPPM, "no ppm is expected of no normal distribution")
	p, err := capability.PercentileCapability(skewed, capability.AtMost(200), 0.95, resamples, bootstrapSeed)
	require.NoError(t, err)
	assert.InDelta(t, p.P.PK, k.Ppk.Value, 0)
}
