package charts

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/lines"
	"padjig/results/stats"
)

func chartOf(t *testing.T, kind ChartKind, values ...float64) *charting {
	t.Helper()
	a, err := ChartAsked{Kind: kind, Baseline: 10, Subgroup: map[bool]string{true: ByHour,
		false: ByUnits}[kind.Counts()]}.withDefaults()
	require.NoError(t, err)
	c := &charting{Chart: Chart{ChartAsked: a}}
	for i, v := range values {
		g := Group{Name: "u", First: int64(i + 1), Last: int64(i + 1), Values: []float64{v}}
		if kind.Subgroups() {
			g.Values = []float64{v, v + 1, v - 1}
		}
		if kind.Counts() {
			g.Count, g.Size = int(v), 50
		}
		c.groups = append(c.groups, g)
	}
	return c
}

// Flow rate data of the e-Handbook, 6.3.2.2 (seen there): ten values, mean
// 50.81, mean moving range 1.8778, limits 45.817 and 55.803.
var flow = []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}

func TestLimitsOfIndividuals(t *testing.T) {
	c := chartOf(t, IMR, flow...)
	require.NoError(t, c.setBaseline())
	require.NoError(t, c.plot())
	l := c.Panels[0].Points[0].Limits
	assert.InDelta(t, 50.81, l.Center, 0.005)
	assert.InDelta(t, 45.817, l.Lower, 0.005)
	assert.InDelta(t, 55.803, l.Upper, 0.005)
	assert.Len(t, c.Panels[1].Points, len(flow)-1)
}

func TestEveryKindOfChart(t *testing.T) {
	values := map[bool][]float64{false: append(append([]float64{}, flow...), 70), true: {2, 3, 1, 2, 2, 1, 2, 1, 3, 2, 30}}
	for _, kind := range ChartKinds {
		t.Run(string(kind), func(t *testing.T) {
			c := chartOf(t, kind, values[kind.Counts()]...)
			b, n, err := c.computed()
			require.NoError(t, err)
			assert.Equal(t, 10, n, "limits come from the first subgroups")
			limits, err := json.Marshal(b)
			require.NoError(t, err)
			for _, frozen := range []*lines.Baseline{nil, {Limits: limits, By: "Ann", Reason: "calm", Points: 10}} {
				c.Frozen, c.Panels = frozen, nil
				require.NoError(t, c.setBaseline())
				require.NoError(t, c.plot())
				points := c.Panels[0].Points
				assert.NotEmpty(t, points[len(points)-1].Signals, "the large value signals")
				assert.Positive(t, c.Panels[0].Signals())
			}
		})
	}
}

func TestChartsThatCannotBe(t *testing.T) {
	for name, c := range map[string]struct {
		chart *charting
		want  error
	}{
		"no points":     {chartOf(t, IMR), stats.ErrEmpty},
		"zero variance": {chartOf(t, IMR, 5, 5, 5, 5), stats.ErrNoSpread},
		"none failed":   {chartOf(t, P, 0, 0, 0), stats.ErrNoSpread},
		"no defect":     {chartOf(t, U, 0, 0, 0), stats.ErrNoSpread},
	} {
		t.Run(name, func(t *testing.T) { assert.ErrorIs(t, c.chart.setBaseline(), c.want) })
	}
	assert.Error(t, chartOf(t, IMR, 5).setBaseline())
	c := chartOf(t, XbarR, flow...)
	b, _, err := chartOf(t, IMR, flow...).computed()
	require.NoError(t, err)
	limits, err := json.Marshal(b)
	require.NoError(t, err)
	c.Frozen = &lines.Baseline{Limits: limits}
	assert.ErrorContains(t, c.setBaseline(), "of another kind of chart")
}

// A set of limits has one identity wherever it is drawn, and no two charts that
// cannot share limits have the same.
func TestIdentityTellsChartsApart(t *testing.T) {
	same := Identity{Product: "h1", Measure: lines.Contact, Keys: "7", Jigs: "J-0043", Chart: XbarS, Subgroup: "5"}
	names := map[string]bool{same.String(): true}
	for _, change := range []func(*Identity){
		func(i *Identity) { i.Product = "h2" }, func(i *Identity) { i.Measure = lines.Closing }, func(i *Identity) { i.Keys = "8" },
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

// Limits that were frozen before the measures had their names of now are found: what
// stands in the store for a measure is what always stood there.
func TestLimitsOfBeforeAreFound(t *testing.T) {
	for measure, recorded := range map[lines.Measure]string{
		lines.Contact: "closed", lines.Closing: "make", lines.Opening: "break",
		lines.Forward: "forward", lines.Reverse: "reverse", "": "",
	} {
		assert.Equal(t, "chart i-mr; subgroup 1; measure "+recorded+"; keys 1; jigs ; product abc; finding ; press ",
			Identity{Chart: IMR, Subgroup: "1", Measure: measure, Keys: "1", Product: "abc"}.String())
	}
}
