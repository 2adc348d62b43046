package gauge

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/stats"
	"padjig/results/stats/interval"
	"padjig/results/stats/reference"
)

// pairs spells a table of two raters' verdicts out.
func pairs(counts map[[2]string]int) (a, b []string) {
	for pair, n := range counts {
		for range n {
			a, b = append(a, pair[0]), append(b, pair[1])
		}
	}
	return a, b
}

// Source: Fleiss 1971, the example of ten subjects and fourteen raters in
// five categories, 0.210, from memory; beside it the definition is held by the
// two-rater case below and by simulation.
func TestFleissKappa(t *testing.T) {
	table := [][]int{
		{0, 0, 0, 0, 14}, {0, 2, 6, 4, 2}, {0, 0, 3, 5, 6}, {0, 3, 9, 2, 0}, {2, 2, 8, 1, 1},
		{7, 7, 0, 0, 0}, {3, 2, 6, 3, 0}, {2, 5, 3, 2, 2}, {6, 5, 2, 1, 0}, {0, 2, 2, 3, 7},
	}
	var verdicts [][]string
	for _, unit := range table {
		var all []string
		for category, n := range unit {
			for range n {
				all = append(all, string(rune('a'+category)))
			}
		}
		verdicts = append(verdicts, all)
	}
	k, err := FleissKappa(verdicts, 0.95)
	require.NoError(t, err)
	reference.Printed(t, 3, 0, 0.210, k.Value)
	reference.Printed(t, 3, 0, 0.378, k.Observed)
	reference.Printed(t, 3, 0, 0.213, k.ByChance)

	_, err = FleissKappa([][]string{{"a", "b"}, {"a"}}, 0.95)
	assert.ErrorContains(t, err, "unit 2 has 1 verdicts, unit 1 has 2")
	_, err = FleissKappa([][]string{{"a", "a"}, {"a", "a"}}, 0.95)
	assert.ErrorContains(t, err, "only one verdict")
}

// With two verdicts a unit Fleiss's kappa is Scott's pi: chance agreement from
// the shares of both together.
func TestFleissOfTwoIsScott(t *testing.T) {
	a, b := pairs(map[[2]string]int{{"pass", "pass"}: 45, {"fail", "fail"}: 25, {"pass", "fail"}: 20, {"fail", "pass"}: 10})
	verdicts := make([][]string, len(a))
	for i := range a {
		verdicts[i] = []string{a[i], b[i]}
	}
	k, err := FleissKappa(verdicts, 0.95)
	require.NoError(t, err)
	pass := (45*2 + 30) / 200.0
	chance := pass*pass + (1-pass)*(1-pass)
	reference.Agrees(t, 12, (0.7-chance)/(1-chance), k.Value)
}

// The intervals' promise. Units are good with 0.7; each verdict is right with
// 0.9, so that two agree with 0.82 and pass with 0.66 each: kappa is
// (0.82 - 0.5512)/(1 - 0.5512). 1200 studies of 120 units.
func TestKappaIntervalsCover(t *testing.T) {
	source := rand.New(rand.NewPCG(71, 0))
	const studies = 1200
	pass := 0.7*0.9 + 0.3*0.1
	chance := pass*pass + (1-pass)*(1-pass)
	truth := (0.82 - chance) / (1 - chance)
	fleiss := 0
	verdict := func(good bool) string {
		if (source.Float64() < 0.9) == good {
			return "pass"
		}
		return "fail"
	}
	for range studies {
		var both [][]string
		for range 120 {
			good := source.Float64() < 0.7
			three := []string{verdict(good), verdict(good), verdict(good)}
			both = append(both, three)
		}
		f, err := FleissKappa(both, 0.95)
		require.NoError(t, err)
		if f.Interval.Contains(truth) {
			fleiss++
		}
	}
	assert.InDelta(t, 0.945, float64(fleiss)/studies, 0.025)
}

func TestAgainstReference(t *testing.T) {
	verdicts := []Judged{{Bad: false, Passed: true}, {Bad: false, Passed: false}, {Bad: true, Passed: true}, {Bad: true}, {Bad: true}}
	e, err := AgainstReference(verdicts, 0.95)
	require.NoError(t, err)
	assert.Equal(t, [7]int{3, 5, 1, 2, 1, 3, 0}, [7]int{e.Right, e.N, e.FalseRejects, e.Go, e.FalseAccepts, e.No, 0})
	want, err := interval.ClopperPearson(1, 3, 0.95)
	require.NoError(t, err)
	assert.Equal(t, want, e.FalseAccept)
	only, err := AgainstReference(verdicts[:2], 0.95)
	require.NoError(t, err)
	assert.True(t, math.IsNaN(only.FalseAccept.Low))
	_, err = AgainstReference(nil, 0.95)
	assert.ErrorIs(t, err, stats.ErrEmpty)
}
