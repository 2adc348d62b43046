package report

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/stats"
)

// three units with one key: well inside, near the limit in force, beyond it.
func three() LimitsAsked {
	a := LimitsAsked{
		Asked: Asked{Confidence: 0.95}, Measure: results.Closed, Coverage: 0.9, Side: stats.OnlyUpper, Proposed: stats.AtMost(90),
		Series: results.Series{Limits: map[string][2]float64{"7": {0, 100}}},
	}
	for i, v := range []float64{50, 95, 105} {
		a.Series.Points = append(a.Series.Points, results.Point{Seq: int64(i + 1), Serial: string(rune('A' + i)), Key: "7", Value: v, U: 5})
	}
	return a
}

// By hand: readings 95 and 105 lie one standard uncertainty from 100.
func TestWhatLimitsDoToUnits(t *testing.T) {
	a := three()
	was := a.try(a.inForce, 0)
	assert.Equal(t, map[int64]bool{3: true}, was.rejected)
	assert.InDelta(t, 0.158655, was.bad, 1e-6, "95 may truly be beyond 100")
	assert.InDelta(t, 0.158655, was.good, 1e-6, "105 may truly be within")

	guarded := a.try(a.inForce, 1) // U = 10: the band begins at 90
	assert.Equal(t, map[int64]bool{2: true, 3: true}, guarded.rejected)
	assert.InDelta(t, 0, guarded.bad, 1e-9)
	assert.InDelta(t, 0.841345+0.158655, guarded.good, 1e-6)

	now := a.try(a.proposed, 0)
	assert.Equal(t, map[int64]bool{2: true, 3: true}, now.rejected)
	assert.Equal(t, 3, now.units)

	d, err := Limits(a)
	require.NoError(t, err)
	assert.Equal(t, [][]any{{"B", 2, "would be rejected"}}, table(t, d, "changes").Rows)
	a.Proposed = stats.AtMost(110)
	d, err = Limits(a)
	require.NoError(t, err)
	assert.Equal(t, [][]any{{"C", 3, "would be let through"}}, table(t, d, "changes").Rows)
}

func TestLimitsWithoutUncertaintyExpectNothing(t *testing.T) {
	a := three()
	for i := range a.Series.Points {
		a.Series.Points[i].U = 0
	}
	r := a.try(a.inForce, 1)
	assert.Zero(t, r.bad+r.good)
	assert.Len(t, r.rejected, 1)
}

func TestLimitsOfNothing(t *testing.T) {
	a := three()
	a.Series.Points = nil
	_, err := Limits(a)
	assert.ErrorIs(t, err, results.ErrNoUnits)
	a = three()
	a.Series.Points = a.Series.Points[:1]
	_, err = Limits(a)
	assert.ErrorContains(t, err, "1 value where at least 2 are needed")
	a.Proposed = stats.Spec{Lower: math.Inf(-1), Upper: math.Inf(1)}
	assert.False(t, a.tries())
}
