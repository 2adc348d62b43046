package results

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/care"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// history is a jig's life, written down step by step.
type history struct {
	*testing.T
	s   *Store
	rev runs.Revision
}

func historyOf(t *testing.T) history {
	return history{t, openTemp(t), runstest.Defined(`{"keys":[{"label":"1","limits":{"closed_ohm":[0,200]}},` +
		`{"label":"2","limits":{"closed_ohm":[90,200]}}]}`)}
}

// run tests a unit; key 1 reads so many ohms.
func (h history) run(serial, jig string, closed quantity.Ohm) {
	h.Helper()
	run := runstest.Of(h.rev, runstest.Passed(serial))
	run.Jig.Serial = jig
	run.Keys[0].Closed = &fixture.Resistance{Value: closed, U: 0.25}
	run.Keys[1].Closed = &fixture.Resistance{Value: 150, U: 0.25}
	_, err := h.s.Runs.Save(h.Context(), h.rev, run)
	require.NoError(h, err)
}

func (h history) fail(serial, jig string) {
	h.Helper()
	run := runstest.Of(h.rev, runstest.Failed(serial))
	run.Jig.Serial = jig
	_, err := h.s.Runs.Save(h.Context(), h.rev, run)
	require.NoError(h, err)
}

func (h history) verify(jig string, good bool) { h.calibrate(jig, verifyOf(good)) }

func (h history) calibrate(jig string, c sequence.Calibration) {
	h.Helper()
	c.Jig.Serial = jig
	_, err := h.s.Care.SaveCalibration(h.Context(), c)
	require.NoError(h, err)
}

func (h history) windows(jig string) []care.Window {
	h.Helper()
	all, err := h.s.Care.Suspects(h.Context(), jig, false)
	require.NoError(h, err)
	return all
}

func serials(w care.Window) []string {
	return store.Each(w.Units, func(u care.Suspect) string { return u.Serial })
}

func TestSuspects(t *testing.T) {
	h := historyOf(t)
	h.run("24-000001", "J-0007", 100)
	h.verify("J-0007", true)
	h.run("24-000009", "J-0008", 100)
	h.fail("24-000003", "J-0007")
	h.run("24-000002", "J-0007", 180)
	h.run("24-000004", "J-0007", 199)

	all := h.windows("J-0007")
	require.Len(t, all, 1)
	got := all[0]
	assert.True(t, got.Open())
	require.NotNil(t, got.Since)
	assert.Empty(t, got.Failed)
	assert.Equal(t, int64(1), got.Since.AfterRun)
	require.Equal(t, []string{"24-000004", "24-000002", "24-000003"}, serials(got),
		"not the one before, not the one of another jig; the nearest first, without a reading last")
	first := got.Units[0]
	assert.Equal(t, "1", first.Key)
	assert.InDelta(t, 0.005, first.OfLimit(), 1e-9)
	assert.InDelta(t, 2, first.OfU(), 1e-9)
	assert.Empty(t, got.Units[2].Key)

	never := h.windows("J-0008")
	require.Len(t, never, 1)
	assert.Nil(t, never[0].Since)
	assert.Len(t, never[0].Units, 1)
}

// What a verification found in doubt stays to be asked after, whatever follows.
func TestEveryWindowOfSuspectsStays(t *testing.T) {
	h := historyOf(t)
	h.run("24-000001", "J-0007", 100)
	h.verify("J-0007", false) // the first one ever: everything before it
	h.verify("J-0007", true)
	h.run("24-000002", "J-0007", 100)
	h.calibrate("J-0007", zeroOf(false)) // says nothing of the references
	h.verify("J-0007", true)             // and nothing was wrong with them
	h.run("24-000003", "J-0007", 100)
	h.verify("J-0007", false)
	h.run("24-000004", "J-0007", 100) // in spite of it
	h.calibrate("J-0007", zeroOf(true))
	h.verify("J-0007", false)
	h.run("24-000005", "J-0007", 100)
	h.verify("J-0007", true)
	h.run("24-000006", "J-0007", 100)

	all := h.windows("J-0007")
	require.Len(t, all, 3, "the open one, two of before; a good verification after a good one ends none")
	assert.Equal(t, []int{3, 2, 1}, store.Each(all, func(w care.Window) int { return w.Number }))
	assert.Equal(t, []string{"24-000006"}, serials(all[0]))
	assert.True(t, all[0].Open())

	joined := all[1]
	assert.Equal(t, []string{"24-000003", "24-000004", "24-000005"}, serials(joined))
	assert.Len(t, joined.Failed, 2, "failed, failed, good are one window")
	require.NotNil(t, joined.Since)
	assert.Equal(t, int64(2), joined.Since.AfterRun)
	require.NotNil(t, joined.Until)
	assert.Equal(t, int64(5), joined.Until.AfterRun)

	assert.Equal(t, []string{"24-000001"}, serials(all[2]))
	assert.Nil(t, all[2].Since)

	h.verify("J-0007", false)
	again := h.windows("J-0007")
	require.Len(t, again, 3)
	assert.Equal(t, 3, again[0].Number, "the open one has kept its number")
	assert.Len(t, again[0].Failed, 1)
	assert.Equal(t, all[1:], again[1:], "and what was past has not changed")
}

// The order of records decides: the clock of a station went back a year in between.
func TestWindowsOfSuspectsKnowNoClock(t *testing.T) {
	h := historyOf(t)
	h.verify("J-0007", true)
	h.run("24-000001", "J-0007", 100)
	early := verifyOf(false)
	early.Performed = early.Performed.AddDate(-1, 0, 0)
	h.calibrate("J-0007", early)
	late := verifyOf(true)
	late.Performed = late.Performed.AddDate(-2, 0, 0)
	h.calibrate("J-0007", late)
	h.run("24-000002", "J-0007", 100)

	all := h.windows("J-0007")
	require.Len(t, all, 2)
	assert.Equal(t, []string{"24-000002"}, serials(all[0]))
	assert.Equal(t, []string{"24-000001"}, serials(all[1]))
}

// A unit that passed again on a jig that was good then is marked, and not hidden.
func TestSuspectsAreCleared(t *testing.T) {
	h := historyOf(t)
	h.verify("J-0008", true)
	h.verify("J-0007", true)
	for _, serial := range []string{"24-000001", "24-000002", "24-000003", "24-000004", "24-000005", "24-000006"} {
		h.run(serial, "J-0007", 100)
	}
	h.run("24-000001", "J-0007", 199) // again on the same jig, before it was known: nothing is cleared by that
	h.verify("J-0007", false)
	h.run("24-000006", "J-0007", 100) // nor by the jig that just failed
	h.run("24-000002", "J-0008", 100) // this counts, while the jig is still down
	h.run("24-000003", "J-0009", 100) // a jig that was never verified
	h.verify("J-0007", true)
	h.run("24-000004", "J-0007", 100) // good again
	h.run("24-000005", "J-0007", 100)
	h.fail("24-000005", "J-0007") // passed and then failed: the last one counts

	window := h.windows("J-0007")[1]
	cleared := map[string]string{}
	for _, u := range window.Units {
		if u.Cleared != nil {
			cleared[u.Serial] = u.Cleared.Jig
		}
	}
	assert.Equal(t, map[string]string{"24-000002": "J-0008", "24-000004": "J-0007"}, cleared)
	assert.Equal(t, 2, window.Cleared())
	require.Len(t, window.Units, 6)
	assert.Equal(t, "24-000001", window.Units[0].Serial, "nearest, and not cleared")
	assert.NotNil(t, window.Units[5].Cleared, "what is cleared comes last")

	h.verify("J-0008", false) // the jig that cleared one was itself in doubt
	assert.Equal(t, 1, h.windows("J-0007")[1].Cleared())
}

// Simulated runs and calibrations are a world of their own.
func TestSuspectsOfASimulatedJig(t *testing.T) {
	h := historyOf(t)
	simulated := verifyOf(false)
	simulated.Simulated = true
	h.run("24-000001", "J-0007", 100)
	h.calibrate("J-0007", simulated)
	all := h.windows("J-0007")
	require.Len(t, all, 1)
	assert.Empty(t, all[0].Failed)
	practice, err := h.s.Care.Suspects(t.Context(), "J-0007", true)
	require.NoError(t, err)
	assert.Len(t, practice[0].Failed, 1)
	assert.Empty(t, practice[0].Units)
}

// What the failed verification read wrong is taken off, where that brings a reading nearer
// to its limit. It has 103 ohm where there are 100, on the range of 500 ohm: 3 ohm or 3 %.
func TestMarginsOfSuspectsAreCorrected(t *testing.T) {
	h := historyOf(t)
	h.verify("J-0007", true)
	h.run("24-000001", "J-0007", 199)
	short := verifyOf(false)
	short.Readings[1].Measured.Value, short.Readings[1].Deviation.Value = 97, -3
	h.calibrate("J-0007", short)
	u := h.windows("J-0007")[0].Units[0]
	assert.InDelta(t, 1, float64(u.Margin), 1e-9)
	assert.InDelta(t, 200-199/0.97, float64(u.Corrected), 1e-9, "it reads 3 % too little: the unit is beyond its limit")
	assert.Negative(t, u.OfLimit())

	over := historyOf(t)
	over.verify("J-0007", true)
	over.run("24-000001", "J-0007", 199)
	over.verify("J-0007", false)
	u = over.windows("J-0007")[0].Units[0]
	assert.Equal(t, u.Margin, u.Corrected, "it reads too much, and may have drifted only after this unit")
}
