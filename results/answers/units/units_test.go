package units_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/answerstest"
	. "padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/sequence"
)

var all = answers.Selection{Filter: answerstest.Simulated}

func count(t *testing.T, s *results.Store, of answers.Selection, change func(*lines.Behind)) int {
	t.Helper()
	b := Everything()
	change(&b)
	again, err := Parse(Values(b))
	require.NoError(t, err)
	u, err := AskUnits(t.Context(), s, UnitsAsked{Selection: of, Behind: again, Last: 20000})
	if err != nil {
		require.ErrorIs(t, err, lines.ErrNoUnits)
		return 0
	}
	assert.Len(t, u.Rows, u.All)
	return u.All
}

// What stands behind a figure is as many units as the figure says, for every bar, cell
// and bin of a day that is known run by run.
func TestAsManyUnitsAsTheFigureSays(t *testing.T) {
	line := answerstest.Day(t)
	s := line.Store
	for _, by := range lines.CauseDimensions {
		c, err := answers.AskCauses(t.Context(), s, answers.CausesAsked{Selection: all, By: by})
		require.NoError(t, err)
		require.NotEmpty(t, c.Rows)
		for _, row := range c.Rows {
			assert.Equal(t, row.Worst, count(t, s, all, func(b *lines.Behind) { b.By, b.Cause, b.Worst = by, row.Name, true }), "%s %s", by, row.Name)
			assert.Equal(t, row.Units, count(t, s, all, func(b *lines.Behind) { b.By, b.Cause = by, row.Name }), "any finding: %s %s", by, row.Name)
		}
	}
	d, err := answers.AskDistributions(t.Context(), s, answers.DistributionsAsked{Selection: all, Measure: lines.Contact})
	require.NoError(t, err)
	binned := 0
	for _, k := range d.Rows {
		for _, bin := range k.Bins {
			binned++
			assert.EqualValues(t, bin.Count, count(t, s, all, func(b *lines.Behind) {
				b.Measure, b.Key, b.Low, b.High = lines.Contact, k.Name, bin.From, bin.To
			}), "key %s from %v to %v", k.Name, bin.From, bin.To)
		}
	}
	require.Positive(t, binned)
	first := line.First(nil)
	failed := 0
	for _, r := range first {
		if r.Outcome != sequence.Pass {
			failed++
		}
	}
	assert.Equal(t, len(first), count(t, s, all, func(*lines.Behind) {}))
	assert.Equal(t, failed, count(t, s, all, func(b *lines.Behind) { b.Verdict = "fail" }))
	assert.Equal(t, len(first)-failed, count(t, s, all, func(b *lines.Behind) { b.Verdict = "pass" }))
}

// The newest units are listed, with how many there are, when they were tested in the
// plant's time, and what was read.
func TestUnitsAreListed(t *testing.T) {
	s := answerstest.Units(t, []float64{60, 70}, []float64{61, 0}, []float64{63, 71}, []float64{62, 69})
	u, err := AskUnits(t.Context(), s, UnitsAsked{Selection: all, Behind: lines.Behind{Measure: lines.Contact, Key: "2", Low: math.NaN(), High: math.NaN()}, Last: 2})
	require.NoError(t, err)
	require.Len(t, u.Rows, 2)
	assert.Equal(t, 3, u.All, "an open key has no number")
	assert.InDelta(t, 69, u.Rows[0].Value, 1e-9)
	assert.Equal(t, "units.newest", u.Conclusions[0].Code)
	assert.Greater(t, u.Rows[0].Seq, u.Rows[1].Seq)
	assert.Equal(t, 4, count(t, s, all, func(*lines.Behind) {}))
	assert.Equal(t, 1, count(t, s, all, func(b *lines.Behind) { b.First, b.Last = u.Rows[0].Seq, u.Rows[0].Seq }))
}

// What makes no sense is refused with what to write, from an address as from flags.
func TestChoicesThatMakeNoSense(t *testing.T) {
	for name, c := range map[string]struct {
		query map[string][]string
		says  string
	}{
		"no such verdict":      {map[string][]string{"verdict": {"good"}}, "write pass or fail"},
		"runs backwards":       {map[string][]string{"runs": {"9-3"}}, "such as 120-124"},
		"runs that are words":  {map[string][]string{"runs": {"a-b"}}, "such as 120-124"},
		"one run":              {map[string][]string{"runs": {"9"}}, "such as 120-124"},
		"no such way":          {map[string][]string{"is": {"key open"}, "cause": {"colour"}}, "write finding, place, key, line, channel"},
		"a reading of no key":  {map[string][]string{"measure": {"contact"}}, "name both or none"},
		"a key of no reading":  {map[string][]string{"key": {"7"}}, "name both or none"},
		"no reading of a key":  {map[string][]string{"measure": {"loop"}, "key": {"3"}}, "write contact, closing, opening, forward or reverse"},
		"an empty range":       {map[string][]string{"measure": {"contact"}, "key": {"7"}, "low": {"9"}, "high": {"9"}}, "no reading lies in between"},
		"no number":            {map[string][]string{"measure": {"contact"}, "key": {"7"}, "low": {"much"}}, `low "much" is no number`},
		"not a number":         {map[string][]string{"measure": {"contact"}, "key": {"7"}, "low": {"NaN"}}, "is no number"},
		"a range of nothing":   {map[string][]string{"low": {"3"}}, "no measure is named"},
		"a pin of no jig":      {map[string][]string{"pin": {"3"}}, "name both or none"},
		"a jig of no pin":      {map[string][]string{"on": {"J-1"}}, "name both or none"},
		"no pin":               {map[string][]string{"pin": {"0"}, "on": {"J-1"}}, `pin "0" is no number`},
		"runs of no pin":       {map[string][]string{"among": {"1-9"}}, "no pin is named"},
		"SQL is but a text":    {map[string][]string{"verdict": {"pass' OR 1=1 --"}}, "write pass or fail"},
		"a measure in SQL too": {map[string][]string{"measure": {"1; DROP TABLE run"}, "key": {"7"}}, "is no reading of one key"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Parse(c.query)
			assert.ErrorContains(t, err, c.says)
		})
	}
}
