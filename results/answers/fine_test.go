package answers

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/answers/answerstest"
	"padjig/results/stats"
)

// Metal domes read 12 milliohm and differ by a fraction of one. In whole milliohm their spread
// was that of the rounding, or none: what is said of them goes by what was read.
func TestAnswersOfMetalDomes(t *testing.T) {
	source := rand.New(rand.NewPCG(71, 0))
	domes := answerstest.Pad("VC-5", "A", answerstest.Key{Label: "1", Lines: []string{"R1", "C1"}, Limits: [2]float64{0, 0.05}},
		answerstest.Key{Label: "2", Lines: []string{"R1", "C2"}, Limits: [2]float64{0, 0.05}})
	var list []results.Entry
	var read [2][]float64
	for i := range 60 {
		run := answerstest.Run(domes, answerstest.Serial(i), started(i), 1, 1)
		for k, sd := range []float64{0.0003, 0.00005} {
			v := 0.0122 + sd*source.NormFloat64()
			run.Keys[k].Closed, read[k] = &fixture.Resistance{Value: quantity.Ohm(v), U: 0.0002}, append(read[k], v)
		}
		list = append(list, answerstest.Of(domes, run))
	}
	s := answerstest.Store(t, list...)
	c, err := AskCapability(t.Context(), s, CapabilityAsked{Selection: all})
	require.NoError(t, err)
	for k, row := range c.Rows {
		require.NoError(t, row.Why)
		of, err := stats.Summarize(read[k])
		require.NoError(t, err)
		assert.InEpsilon(t, of.SD, row.SD, 0.01, "key %s", row.Key)
	}
	points, err := all.Read(t.Context(), s, "contact", KeyChoice{}, 0)
	require.NoError(t, err)
	assert.InDelta(t, 0.0002, points.Points[0].U, 0, "what a proposed limit's guard band is made of")
}
