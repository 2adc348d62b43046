package answers

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers/answerstest"
	"padjig/results/stats"
	"padjig/results/stats/capability"
	"padjig/results/stats/interval"
	"padjig/results/stats/reference"
)

// Flow rate data of the e-Handbook, 6.3.2.2 (seen there).
var flow = []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}

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

// Readings that are not normal have their Ppk from percentiles where there are enough, else
// none; they expect no ppm, and have no index that a normal distribution stands behind.
func TestCapabilityDecidesByNormality(t *testing.T) {
	skewed := make([]float64, 200)
	for i := range skewed {
		skewed[i] = 60 + 0.001*float64(i*i)
	}
	k := keyReadings{Key: "7", Limits: [2]float64{0, 200}, Values: skewed}.capability(0.95)
	require.NoError(t, k.Why)
	assert.Equal(t, NoMethod, k.Method)
	assert.Equal(t, 2897, k.Need)
	for _, index := range []Estimate{k.Cp, k.Cpk, k.Pp, k.Ppk} {
		assert.True(t, math.IsNaN(index.Value) && math.IsNaN(index.Low))
	}
	assert.NotEqual(t, k.ExpectedPPM, k.ExpectedPPM, "no ppm is expected of no normal distribution")
	assert.Positive(t, k.Rank(), "it is ranked all the same")

	enough := slices.Repeat(skewed, 15)
	k = keyReadings{Key: "7", Limits: [2]float64{0, 200}, Values: enough}.capability(0.95)
	assert.Equal(t, ByPercentiles, k.Method)
	p, err := capability.PercentileCapability(enough, capability.AtMost(200), 0.95)
	require.NoError(t, err)
	assert.InDelta(t, min(p.P.PK, k.Normal), k.Ppk.Value, 0)
}

// To fail a test of normality never makes a key look better than the normal method would: not
// by its index, not by the lower end that it is judged by, not by its place among others.
func TestFailingNormalityNeverFlatters(t *testing.T) {
	source := rand.New(rand.NewPCG(29, 0))
	failed := map[Method]int{}
	for _, draw := range []func() float64{
		source.Float64, source.ExpFloat64, func() float64 { return math.Exp(source.NormFloat64()) },
		func() float64 { return source.NormFloat64() + 6*float64(source.IntN(2)) },
	} {
		for _, n := range []int{40, 500, 3500} {
			for range 20 {
				values := make([]float64, n)
				for i := range values {
					values[i] = 40 + draw()
				}
				spec := [2]float64{30, 40 + 20*source.Float64()}
				k := keyReadings{Limits: spec, Values: values}.capability(0.95)
				require.NoError(t, k.Why)
				if failed[k.Method]++; k.Method == ByNormal {
					continue
				}
				all, err := capability.New(values, stats.Sigma{Value: 1, DF: 1}, SpecOf(spec))
				require.NoError(t, err)
				normal := capability.CpkInterval(all.P.PK, n, float64(n-1), 0.95)
				assert.False(t, k.Ppk.Value > all.P.PK, "%v of %v", k.Ppk, all.P.PK)
				assert.False(t, k.Ppk.Low > normal.Low)
				assert.LessOrEqual(t, k.Rank(), all.P.PK)
			}
		}
	}
	assert.Positive(t, failed[NoMethod])
	assert.Positive(t, failed[ByPercentiles])
}

// A unit whose contact is open, or that came to its verdict before the key was pressed, gave no
// reading. It is no reading that could be taken into an index, and is told beside it.
func TestCapabilityCountsUnitsWithoutAReading(t *testing.T) {
	source := rand.New(rand.NewPCG(31, 0))
	var list []results.Entry
	const units, open, never = 120, 5, 2
	for i := range units {
		run := answerstest.Run(answerstest.Vents, answerstest.Serial(i), started(i), 60+3*source.NormFloat64(), 70, 80, 90)
		switch {
		case i < open:
			run = answerstest.Failed(run, "key open", 0)
		case i < open+never:
			run = answerstest.Failed(run, "key high", 3)
			run.Keys = run.Keys[1:]
		}
		list = append(list, answerstest.Of(answerstest.Vents, run))
	}
	s := answerstest.Store(t, list...)
	c, err := AskCapability(t.Context(), s, CapabilityAsked{Selection: all, Keys: KeyChoice{Labels: []string{"1"}}})
	require.NoError(t, err)
	k := c.Rows[0]
	require.NoError(t, k.Why)
	assert.Greater(t, k.Ppk.Value, GoodPpk, "an index that says nothing of them")
	assert.Equal(t, [3]int{units - open - never, open + never, units}, [3]int{k.N, k.NoReading, k.Units()})
	exact, err := interval.ClopperPearson(open+never, units, 0.95)
	require.NoError(t, err)
	assert.Equal(t, Estimate{float64(open+never) / units, exact.Low, exact.High}, k.Out)
	assert.Equal(t, Warn("capability.silent", 1, 1, "1", open+never, units, Part(k.Out)), said(t, c.Conclusions, "capability.silent"))
	worst := said(t, c.Conclusions, "capability.worst")
	assert.Equal(t, []any{open + never, units, Part(k.Out)}, worst.Args[len(worst.Args)-3:])
}

// The share of units outside or without a reading lies in its interval at least as often as is
// said, also where it is rare: of one in 3,000 Wilson's interval would hold 85 %.
func TestClaimOfUnitsOutside(t *testing.T) {
	source := rand.New(rand.NewPCG(37, 0))
	for _, c := range []struct {
		units      int
		open, high float64
	}{{300, 0.003, 0.002}, {2941, 0.005, 0}, {500, 0, 0.0007}, {500, 0, 0.00034}, {120, 0.05, 0.05}} {
		held, cases := 0, reference.Cases(250)
		for range cases {
			k := keyReadings{Limits: [2]float64{0, 200}}
			for range c.units {
				switch u := source.Float64(); {
				case u < c.open:
					k.Over++
				case u < c.open+c.high:
					k.Values = append(k.Values, 250)
				default:
					k.Values = append(k.Values, 60+source.Float64())
				}
			}
			k.Units = c.units
			if of := k.capability(0.95); of.Out.Low <= c.open+c.high && c.open+c.high <= of.Out.High {
				held++
			}
		}
		reference.AtLeast(t, 0.95, held, cases, c)
	}
}

// Where no unit gave a reading, or too few did, there is no index; that they gave none is said all
// the same, in number and in words. One unit is enough.
func TestCapabilityWhereNothingWasRead(t *testing.T) {
	for name, units := range map[string][2]int{"all open": {40, 40}, "one unit, open": {1, 1}, "all but three open": {40, 37}} {
		var list []results.Entry
		for i := range units[0] {
			run := answerstest.Run(answerstest.Vents, answerstest.Serial(i), started(i), 60+float64(i), 70, 80, 90)
			if i < units[1] {
				run = answerstest.Failed(run, "key open", 0)
			}
			list = append(list, answerstest.Of(answerstest.Vents, run))
		}
		c, err := AskCapability(t.Context(), answerstest.Store(t, list...), CapabilityAsked{Selection: all, Keys: KeyChoice{Labels: []string{"1"}}})
		require.NoError(t, err, name)
		k := c.Rows[0]
		assert.Error(t, k.Why, name)
		assert.Equal(t, [3]int{units[0] - units[1], units[1], units[0]}, [3]int{k.N, k.NoReading, k.Units()}, name)
		assert.True(t, math.IsNaN(k.Ppk.Value), name)
		assert.Equal(t, []Sentence{Warn("capability.silent", 1, 1, "1", units[1], units[0], Part(k.Out))}, c.Conclusions, name)
	}
}
