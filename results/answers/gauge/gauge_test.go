package gauge

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/stats/capability"
	"padjig/results/studies"
	"padjig/sequence"
)

// measuredStudy is a study with its readings.
type measuredStudy struct {
	GaugeAsked
	values studies.Repeated
}

func (m *measuredStudy) ask() (Gauge, error) {
	return analyse(m.GaugeAsked, m.values, map[string][2]float64{"7": {5, 60}})
}

// published is the study of Montgomery, Design and Analysis of Experiments,
// example 13.1, as if it were of one key, with its readings in a plan.
func published(t *testing.T) *measuredStudy {
	t.Helper()
	f, err := os.Open("../../stats/reference/gauge/montgomery_20x3x2.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	a := &measuredStudy{
		GaugeAsked: GaugeAsked{Measure: lines.Contact, Confidence: 0.95,
			Study: studies.Study{Number: 1, Product: "GCC-20", Revision: "C", Across: studies.AcrossOperators,
				Appraisers: []string{"1", "2", "3"}, Repeats: 2}},
		values: studies.Repeated{Keys: []string{"7"}, Values: map[string][]float64{}},
	}
	for p := range 20 {
		a.Study.Parts = append(a.Study.Parts, strconv.Itoa(p+1))
	}
	for i := len(rows) - 1; i > 0; i-- { // any order but that of the table
		n := make([]int, 3)
		for c := range n {
			n[c], err = strconv.Atoi(rows[i][c])
			require.NoError(t, err)
		}
		y, err := strconv.ParseFloat(rows[i][3], 64)
		require.NoError(t, err)
		a.Study.Plan = append(a.Study.Plan, studies.Planned{Part: n[0] - 1, Appraiser: n[1] - 1, Repeat: n[2] - 1})
		a.Study.Readings = append(a.Study.Readings, studies.StudyReading{Place: len(a.Study.Plan) - 1,
			Outcome: sequence.Pass})
		a.values.Values["7"] = append(a.values.Values["7"], y)
	}
	return a
}

// Source: same example, printed values (seen), reached through plan and answer.
func TestGaugeOfPublishedStudy(t *testing.T) {
	a := published(t)
	a.Keep = true
	g, err := a.ask()
	require.NoError(t, err)
	assert.InDelta(t, 87.65, source(g.Shown, "part").F, 0.005)
	assert.InDelta(t, 0.861, float64(source(g.Shown, "appraiser x part").P), 0.0005)
	assert.InDelta(t, -0.1399, component(g.Shown, "appraiser x part").Raw, 0.00005)
	assert.InDelta(t, 10.2798, component(g.Shown, "part to part").Variance, 0.00005)
	e := component(g.Shown, "repeatability").SD
	assert.InDelta(t, math.Sqrt(0.7143057), e.Low, 1e-6)
	assert.InDelta(t, math.Sqrt(1.4697982), e.High, 1e-6)

	a.Keep = false
	g, err = a.ask()
	require.NoError(t, err)
	assert.InDelta(t, 0.8938, component(g.Shown, "gauge").Variance, 0.00005)
	// 6 sqrt(0.893793) over 60 - 5.
	assert.InDelta(t, 6*0.9454060064/55, g.Rows[0].OfTolerance, 1e-9)
}

func source(k KeyGauge, code string) Source {
	return k.Sources[slices.IndexFunc(k.Sources, func(s Source) bool { return s.Code == code })]
}

func component(k KeyGauge, code string) GaugeComponent {
	return k.Components[slices.IndexFunc(k.Components, func(c GaugeComponent) bool { return c.Code == code })]
}

// What a gauge does to units, against counting: 400000 units drawn as the
// statement says, four standard errors.
func TestGaugeRisksAgainstCounting(t *testing.T) {
	a := published(t)
	g, err := a.ask()
	require.NoError(t, err)
	k := g.Shown
	m := gauging{Gauge: g}.misjudges(k, capability.AtMost(27))
	require.NotNil(t, m)
	bad, accepted, rejected := 0, 0, 0
	const units = 400_000
	drawn := drawing(17)
	for range units {
		x := k.Mean + k.PartSD*drawn.NormFloat64()
		pass := x+k.GaugeSD*drawn.NormFloat64() <= 27
		switch {
		case x > 27 && pass:
			accepted++
		case x <= 27 && !pass:
			rejected++
		}
		if x > 27 {
			bad++
		}
	}
	for want, count := range map[float64]int{m.Bad: bad, m.Accepted: accepted, m.Rejected: rejected} {
		assert.InDelta(t, want, float64(count)/units, 4*math.Sqrt(want/units))
	}
	falseReject, falseAccept := m.Errors()
	assert.InDelta(t, m.Rejected, falseReject*(1-m.Bad), 1e-12)
	assert.InDelta(t, m.Accepted, falseAccept*m.Bad, 1e-12)
}

func TestGaugeLeavesIncompleteRepeatsOut(t *testing.T) {
	a := published(t)
	a.Study.Repeats = 3
	for p := range a.Study.Parts {
		for o := range a.Study.Appraisers {
			a.Study.Plan = append(a.Study.Plan, studies.Planned{Part: p, Appraiser: o, Repeat: 2})
			a.values.Values["7"] = append(a.values.Values["7"], math.NaN())
		}
	}
	g, err := a.ask()
	require.NoError(t, err)
	assert.Contains(t, codes(g.Conclusions), "gauge.repeats")
	assert.Equal(t, 2, g.Repeats)

	a.values.Values["7"][3] = math.NaN()
	_, err = a.ask()
	assert.ErrorContains(t, err, "key 7: 1 readings are no number")
	a.Study.Readings = a.Study.Readings[:7]
	_, err = a.ask()
	assert.ErrorContains(t, err, "7 of 180 readings were taken, and no two repeats are complete")
}

func codes(list []answers.Sentence) (out []string) {
	for _, s := range list {
		out = append(out, s.Code)
	}
	return out
}

func TestToleranceOfOneLimit(t *testing.T) {
	assert.InDelta(t, 2*(30-12.5), toleranceOf(answers.SpecOf([2]float64{0, 30}), 12.5), 1e-12)
	assert.InDelta(t, 2*(12.5-10), toleranceOf(answers.SpecOf([2]float64{10, 0}), 12.5), 1e-12)
	assert.True(t, math.IsNaN(toleranceOf(answers.SpecOf([2]float64{}), 12.5)))
}

func drawing(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0)) }
