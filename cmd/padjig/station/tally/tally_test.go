package tally

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/results/runs"
	"padjig/sequence"
)

var (
	shiftBegan = time.Date(2026, 11, 29, 6, 0, 0, 0, time.UTC)
	ours       = Counted{"GCC-20", "J-0042", false}
)

// drawRun is any run there may be in the records of a shift.
func drawRun(t *rapid.T, n int) runs.Summary {
	r := runs.Summary{
		Product: ours.Product, Jig: ours.Jig,
		Serial:  fmt.Sprint(rapid.IntRange(1, 6).Draw(t, "serial")),
		Attempt: rapid.IntRange(1, 4).Draw(t, "attempt"),
		Outcome: rapid.SampledFrom([]sequence.Outcome{
			sequence.Pass, sequence.Fail, sequence.Reseat, sequence.Incomplete, sequence.Aborted,
		}).Draw(t, "outcome"),
		Started: shiftBegan.Add(time.Duration(n-5) * time.Minute), Duration: 10 * time.Second,
	}
	if r.Outcome == sequence.Pass || r.Outcome == sequence.Fail {
		r.Turn = rapid.IntRange(1, r.Attempt).Draw(t, "turn")
	}
	switch rapid.IntRange(0, 12).Draw(t, "another sort") {
	case 0:
		r.Purpose = rapid.SampledFrom([]sequence.Purpose{
			sequence.FirstPress, sequence.ReturnTest, sequence.Exercise, sequence.GaugeStudy,
		}).Draw(t, "purpose")
	case 2:
		r.Simulated = true
	case 3:
		r.Product = "VENT-6"
	case 4:
		r.Jig = "J-0043"
	}
	return r
}

// A run without a key pressed says nothing of a unit, however it ended, unless it failed
// the unit: that is a judgement, here as in the yield.
func TestTallyOfAHarness(t *testing.T) {
	for outcome, units := range map[sequence.Outcome]int{
		sequence.HarnessGood: 0, sequence.Aborted: 0, sequence.Incomplete: 0, sequence.Reseat: 0, sequence.Fail: 1,
	} {
		got := Tally{Of: ours, Since: shiftBegan}
		got.Add(runs.Summary{Product: ours.Product, Jig: ours.Jig, Serial: "A", Attempt: 1, Actuation: sequence.Electrical, Outcome: outcome, Started: shiftBegan})
		assert.Equal(t, units, got.Units, outcome)
		assert.Equal(t, units, got.Failed, outcome)
		assert.Zero(t, got.Open, outcome)
	}
}

// Whatever runs there were: the figures add up, a unit counts once, and what is
// not production of this product on this jig leaves no trace.
func TestTallyAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all, only := Tally{Of: ours, Since: shiftBegan}, Tally{Of: ours, Since: shiftBegan}
		serials := map[string]bool{}
		for n := range rapid.IntRange(0, 40).Draw(t, "runs") {
			r := drawRun(t, n)
			all.Add(r)
			ends := r.Started.Add(r.Duration)
			if (Counted{r.Product, r.Jig, r.Simulated}) == ours && r.Purpose == sequence.Production && !ends.Before(shiftBegan) {
				only.Add(r)
				serials[r.Serial] = true
			}
			assert.Equal(t, len(serials), all.Units)
			assert.Equal(t, all.Units, all.First+all.Retest+all.Failed+all.Open, "%+v", all)
			for what, figure := range map[string]int{"first": all.First, "retest": all.Retest, "failed": all.Failed, "open": all.Open} {
				assert.GreaterOrEqual(t, figure, 0, what)
			}
			assert.LessOrEqual(t, all.AtOnce, all.Begun)
		}
		assert.Equal(t, only, all)
	})
}

func TestTallyOfOneUnit(t *testing.T) {
	const (
		pass, fail, reseat, aborted = sequence.Pass, sequence.Fail, sequence.Reseat, sequence.Aborted
	)
	type run struct {
		attempt   int
		judgement int
		outcome   sequence.Outcome
	}
	for name, c := range map[string]struct {
		runs  []run
		wants Tally
	}{
		"passes at once":                       {[]run{{1, 1, pass}}, Tally{First: 1, Begun: 1, AtOnce: 1}},
		"passes after a reseat":                {[]run{{1, 0, reseat}, {1, 1, pass}}, Tally{First: 1, Begun: 1, AtOnce: 1}},
		"is never judged":                      {[]run{{1, 0, reseat}, {1, 0, aborted}}, Tally{Open: 1}},
		"fails":                                {[]run{{1, 1, fail}}, Tally{Failed: 1, Begun: 1}},
		"fails, then passes":                   {[]run{{1, 1, fail}, {2, 2, pass}}, Tally{Retest: 1, Begun: 1}},
		"fails, then is stopped":               {[]run{{1, 1, fail}, {2, 0, aborted}}, Tally{Failed: 1, Begun: 1}},
		"passes, and again for a second look":  {[]run{{1, 1, pass}, {2, 2, pass}}, Tally{First: 1, Begun: 1, AtOnce: 1}},
		"passes, then fails":                   {[]run{{1, 1, pass}, {2, 2, fail}}, Tally{Failed: 1, Begun: 1, AtOnce: 1}},
		"passes, fails, passes":                {[]run{{1, 1, pass}, {2, 2, fail}, {3, 3, pass}}, Tally{Retest: 1, Begun: 1, AtOnce: 1}},
		"stopped after a finding, then passes": {[]run{{1, 0, aborted}, {2, 1, pass}}, Tally{Retest: 1, Begun: 1}},
		"failed in the shift before, and pass": {[]run{{2, 2, pass}}, Tally{Retest: 1}},
	} {
		t.Run(name, func(t *testing.T) {
			got := Tally{Of: ours, Since: shiftBegan}
			for i, r := range c.runs {
				at := shiftBegan.Add(time.Duration(i) * time.Minute)
				got.Add(runs.Summary{Product: ours.Product, Jig: ours.Jig, Serial: "A", Attempt: r.attempt, Turn: r.judgement, Outcome: r.outcome, Started: at})
			}
			assert.Equal(t, 1, got.Units)
			figures := func(t Tally) []int { return []int{t.First, t.Retest, t.Failed, t.Open, t.Begun, t.AtOnce} }
			assert.Equal(t, figures(c.wants), figures(got))
		})
	}
}

// A run counts in the shift in which it ended, whether it was seen to end or is
// read from the records.
func TestTallyAtTheTurnOfAShift(t *testing.T) {
	began := func(before time.Duration, serial string, outcome sequence.Outcome) runs.Summary {
		return runs.Summary{
			Product: ours.Product, Jig: ours.Jig, Serial: serial, Attempt: 1, Outcome: outcome,
			Started: shiftBegan.Add(-before), Duration: 10 * time.Second,
		}
	}
	across := began(5*time.Second, "A", sequence.Pass)
	live := Tally{Of: ours, Since: shiftBegan.Add(-8 * time.Hour)}
	live.Add(began(time.Minute, "B", sequence.Fail))
	live.StartShift(shiftBegan)
	live.Add(across)
	restored := Tally{Of: ours, Since: shiftBegan}
	restored.Add(across)
	assert.Equal(t, 1, live.Units)
	assert.Equal(t, restored.Units, live.Units)
	assert.Equal(t, restored.First, live.First)
	assert.Equal(t, 0, live.Failed, "the unit of the shift before")
}

// After a restart the whole shift is counted, however many runs other lanes have put into the
// same records since.
func TestTallyOfABusyHouse(t *testing.T) {
	const others = 6 * restoreRuns
	all := make([]runs.Summary, others+1) // newest first
	for i := range all {
		all[i] = runs.Summary{Product: ours.Product, Jig: "J-0043", Serial: fmt.Sprint(i), Started: shiftBegan.Add(time.Hour - time.Duration(i)*time.Millisecond)}
	}
	all[others] = runs.Summary{Product: ours.Product, Jig: ours.Jig, Serial: "A", Attempt: 1, Turn: 1, Outcome: sequence.Pass, Started: shiftBegan.Add(time.Minute)}
	asked := 0
	list, err := SinceShift(func(n int) ([]runs.Summary, error) { asked++; return all[:min(n, len(all))], nil }, shiftBegan)
	require.NoError(t, err)
	restored := Tally{Of: ours, Since: shiftBegan}
	for _, r := range list {
		restored.Add(r)
	}
	assert.Equal(t, 1, restored.Units)
	assert.Equal(t, 3, asked)
	long := []runs.Summary{{Started: shiftBegan}, {Started: shiftBegan.Add(-48 * time.Hour)}}
	list, err = SinceShift(func(n int) ([]runs.Summary, error) {
		assert.Equal(t, restoreRuns, n, "no further than the shift")
		return append(make([]runs.Summary, n-2), long...), nil
	}, shiftBegan)
	require.NoError(t, err)
	assert.Len(t, list, restoreRuns)
}
