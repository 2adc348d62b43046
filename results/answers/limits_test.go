package answers

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/results/lines"
	"padjig/results/stats/capability"
)

// three units with one key: well inside, near the limit in force, beyond it.
func three(proposed float64) (*WhatIf, lines.Series) {
	limit := capability.AtMost(proposed)
	series := lines.Series{Limits: map[string][2]float64{"7": {0, 100}}}
	for i, v := range []float64{50, 95, 105} {
		series.Points = append(series.Points, lines.Point{Seq: int64(i + 1), Serial: string(rune('A' + i)), Key: "7",
			Value: v, U: 5})
	}
	return &WhatIf{LimitsAsked: LimitsAsked{Measure: lines.Contact, Coverage: 0.9, Side: OnlyUpper,
		Proposed: &limit}}, series
}

// By hand: readings 95 and 105 lie one standard uncertainty from 100.
func TestWhatLimitsDoToUnits(t *testing.T) {
	w, series := three(90)
	inForce := func(key string) capability.Spec { return SpecOf(series.Limits[key]) }
	was := w.outcome(series, inForce, 0)
	assert.Equal(t, map[int64]bool{3: true}, was.rejected)
	assert.InDelta(t, 0.158655, was.BadAccepted, 1e-6, "95 may truly be beyond 100")
	assert.InDelta(t, 0.158655, was.GoodRejected, 1e-6, "105 may truly be within")

	guarded := w.outcome(series, inForce, 1) // U = 10: the band begins at 90
	assert.Equal(t, map[int64]bool{2: true, 3: true}, guarded.rejected)
	assert.InDelta(t, 0, guarded.BadAccepted, 1e-9)
	assert.InDelta(t, 0.841345+0.158655, guarded.GoodRejected, 1e-6)

	w.try(series)
	assert.Equal(t, map[int64]bool{2: true, 3: true}, w.At(true).rejected)
	assert.Equal(t, 3, w.Units)
	assert.Equal(t, []Change{{"B", 2, false}}, w.Changes)
	assert.Equal(t, 1, w.Rejects)
	w, series = three(110)
	w.try(series)
	assert.Equal(t, []Change{{"C", 3, true}}, w.Changes)
	assert.Equal(t, 1, w.LetThrough)
}

func TestLimitsWithoutUncertaintyExpectNothing(t *testing.T) {
	w, series := three(90)
	for i := range series.Points {
		series.Points[i].U = 0
	}
	o := w.outcome(series, func(key string) capability.Spec { return SpecOf(series.Limits[key]) }, 1)
	assert.Zero(t, o.BadAccepted+o.GoodRejected)
	assert.Len(t, o.rejected, 1)
}
