package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/stats"
	"padjig/sequence"
)

// published is the study of Montgomery, Design and Analysis of Experiments,
// example 13.1, as if it were of one key, with its readings in a plan.
func published(t *testing.T) GaugeAsked {
	t.Helper()
	f, err := os.Open("../stats/testdata/reference/gauge/montgomery_20x3x2.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	a := GaugeAsked{
		Measure: results.Closed, Confidence: 0.95, Limits: map[string][2]float64{"7": {5, 60}},
		Study:  results.Study{Number: 1, Product: "GCC-20", Revision: "C", Across: results.AcrossOperators, Appraisers: []string{"1", "2", "3"}, Repeats: 2},
		Values: results.Repeated{Keys: []string{"7"}, Values: map[string][]float64{}},
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
		a.Study.Plan = append(a.Study.Plan, results.Planned{Part: n[0] - 1, Appraiser: n[1] - 1, Repeat: n[2] - 1})
		a.Study.Readings = append(a.Study.Readings, results.StudyReading{Place: len(a.Study.Plan) - 1, Outcome: sequence.Pass})
		a.Values.Values["7"] = append(a.Values.Values["7"], y)
	}
	return a
}

func table(t *testing.T, d Document, name string) Table {
	t.Helper()
	for _, table := range d.Tables {
		if table.Name == name {
			return table
		}
	}
	require.Fail(t, "no table", name)
	return Table{}
}

// cell finds a value by the first column's text and the column's name.
func cell(t *testing.T, of Table, row, column string) any {
	t.Helper()
	for _, r := range of.Rows {
		for c := range of.Columns {
			if r[0] == row && of.Columns[c].Name == column {
				return r[c]
			}
		}
	}
	require.Fail(t, "no cell", row, column)
	return nil
}

// Source: same example, printed values (seen), reached through plan and report.
func TestGaugeResultOfPublishedStudy(t *testing.T) {
	a := published(t)
	a.Keep = true
	d, err := GaugeResult(a)
	require.NoError(t, err)
	assert.InDelta(t, 87.65, cell(t, table(t, d, "anova"), "part", "f"), 0.005)
	assert.InDelta(t, 0.861, float64(cell(t, table(t, d, "anova"), "appraiser x part", "p").(Chance)), 0.0005)
	assert.InDelta(t, -0.1399, cell(t, table(t, d, "components"), "appraiser x part", "raw"), 0.00005)
	assert.InDelta(t, 10.2798, cell(t, table(t, d, "components"), "part to part", "variance"), 0.00005)
	e := cell(t, table(t, d, "components"), "repeatability", "sd").(Estimate)
	assert.InDelta(t, math.Sqrt(0.7143057), e.Low, 1e-6)
	assert.InDelta(t, math.Sqrt(1.4697982), e.High, 1e-6)

	a.Keep = false
	d, err = GaugeResult(a)
	require.NoError(t, err)
	assert.InDelta(t, 0.8938, cell(t, table(t, d, "components"), "gauge", "variance"), 0.00005)
	// 6 sqrt(0.893793) over 60 - 5.
	assert.InDelta(t, 6*0.9454060064/55, cell(t, table(t, d, "keys"), "7", "of_tolerance"), 1e-9)
	var b bytes.Buffer
	require.NoError(t, d.JSON(&b))
	assert.True(t, json.Valid(b.Bytes()))
}

// What a gauge does to units, against counting: 400000 units drawn as the
// statement says, four standard errors.
func TestGaugeRisksAgainstCounting(t *testing.T) {
	a := published(t)
	g, err := a.gauge("7", 2)
	require.NoError(t, err)
	g.limit = stats.AtMost(27)
	m := a.misjudges(g)
	require.NotNil(t, m)
	bad, accepted, rejected := 0, 0, 0
	const units = 400_000
	source := drawing(17)
	for range units {
		x := g.study.Anova.Mean + g.sd(stats.PartToPart)*source.NormFloat64()
		pass := x+g.sd(stats.Gauge)*source.NormFloat64() <= 27
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
	for want, count := range map[float64]int{m.bad: bad, m.accepted: accepted, m.rejected: rejected} {
		assert.InDelta(t, want, float64(count)/units, 4*math.Sqrt(want/units))
	}
	falseReject, falseAccept := m.errors()
	assert.InDelta(t, m.rejected, falseReject*(1-m.bad), 1e-12)
	assert.InDelta(t, m.accepted, falseAccept*m.bad, 1e-12)
}

func TestGaugeResultLeavesIncompleteRepeatsOut(t *testing.T) {
	a := published(t)
	a.Study.Repeats = 3
	for p := range a.Study.Parts {
		for o := range a.Study.Appraisers {
			a.Study.Plan = append(a.Study.Plan, results.Planned{Part: p, Appraiser: o, Repeat: 2})
			a.Values.Values["7"] = append(a.Values.Values["7"], math.NaN())
		}
	}
	d, err := GaugeResult(a)
	require.NoError(t, err)
	assert.Contains(t, d.Remarks[0], "2 of 3 repeats are complete")

	a.Values.Values["7"][3] = math.NaN()
	_, err = GaugeResult(a)
	assert.ErrorContains(t, err, "key 7: 1 readings are no number")
	a.Study.Readings = a.Study.Readings[:7]
	_, err = GaugeResult(a)
	assert.ErrorContains(t, err, "7 of 180 readings were taken, and no two repeats are complete")
}

func TestToleranceOfOneLimit(t *testing.T) {
	g, err := published(t).gauge("7", 2)
	require.NoError(t, err)
	g.limit = specOf([2]float64{0, 30})
	assert.InDelta(t, 2*(30-g.study.Anova.Mean), g.tolerance(), 1e-12)
	g.limit = specOf([2]float64{10, 0})
	assert.InDelta(t, 2*(g.study.Anova.Mean-10), g.tolerance(), 1e-12)
	g.limit = specOf([2]float64{})
	assert.True(t, math.IsNaN(g.ofTolerance(stats.Gauge)))
}

func drawing(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0)) }
