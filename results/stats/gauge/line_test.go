package gauge

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/stats"
	"padjig/results/stats/reference"
)

// By hand: x 1..5 with y 1, 3, 2, 5, 4 has slope 0.8, intercept 0.6, residual
// sum of squares 3.6, so that the slope's standard error is sqrt(1.2/10);
// t(0.975; 3) is 3.182446305284263.
func TestFitLine(t *testing.T) {
	l, err := FitLine([]float64{1, 2, 3, 4, 5}, []float64{1, 3, 2, 5, 4}, 0.95)
	require.NoError(t, err)
	reference.Agrees(t, 13, 0.8, l.Slope)
	reference.Agrees(t, 13, 0.6, l.Intercept)
	reference.Agrees(t, 13, math.Sqrt(1.2), l.ResidualSD)
	reference.Agrees(t, 11, 0.8+3.182446305284263*math.Sqrt(0.12), l.SlopeInterval.High)
	reference.Agrees(t, 11, 0.6+3.182446305284263*math.Sqrt(1.2*(0.2+0.9)), l.InterceptInterval.High)

	// t = r sqrt(3/(1-r^2)) with r = 0.8; the tail of t(3) in closed form.
	at := 0.8 * math.Sqrt(3/(1-0.64))
	tail := 0.5 - (math.Atan(at/math.Sqrt(3))+at/math.Sqrt(3)/(1+at*at/3))/math.Pi
	reference.Agrees(t, 11, 2*tail, l.SlopeP)
}

func TestLinearityFindsWhatWasPutIn(t *testing.T) {
	source := rand.New(rand.NewPCG(61, 0))
	covered := 0
	for range 800 {
		var references, readings []float64
		for _, ref := range []float64{10, 30, 100, 300, 1000} {
			for range 4 {
				references = append(references, ref)
				readings = append(readings, ref+0.05+0.002*ref+0.1*source.NormFloat64())
			}
		}
		l, err := Linearity(references, readings, 0.95)
		require.NoError(t, err)
		if l.SlopeInterval.Contains(0.002) && l.InterceptInterval.Contains(0.05) {
			covered++
		}
	}
	assert.InDelta(t, 0.93, float64(covered)/800, 0.035, "both at once: a little below 0.95")
}

func TestBias(t *testing.T) {
	b, err := NewBias([]float64{100.1, 100.3, 100.2, 100.4}, 100, 0.95)
	require.NoError(t, err)
	reference.Agrees(t, 11, 0.25, b.Mean)
	reference.Agrees(t, 9, 0.25+3.182446305284263*math.Sqrt(0.05/3/4), b.Interval.High)
	assert.Less(t, b.P, 0.05)
	_, err = NewBias([]float64{100, 100}, 100, 0.95)
	assert.ErrorIs(t, err, stats.ErrNoSpread)
	_, err = FitLine([]float64{1, 1, 1}, []float64{1, 2, 3}, 0.95)
	assert.ErrorIs(t, err, stats.ErrNoSpread)
	_, err = FitLine([]float64{1, 2}, []float64{1, 2}, 0.95)
	assert.EqualError(t, err, "2 values where at least 3 are needed")
	_, err = FitLine([]float64{1, 2}, []float64{1}, 0.95)
	assert.ErrorIs(t, err, stats.ErrUnequal)
	flat, err := FitLine([]float64{1, 2, 3}, []float64{5, 5, 5}, 0.95)
	require.NoError(t, err)
	assert.Equal(t, 1.0, flat.SlopeP)
}
