package results

import (
	"database/sql"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/lines"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// A run that was killed uses an attempt, as what it had found is not known; not so
// one whose keys were joined and not pressed, which proves nothing of the unit
// when it is finished either. Both stand in the unit's life.
func TestAKilledElectricalPressIsNoAttempt(t *testing.T) {
	const serial = "24-000001"
	for how, wants := range map[sequence.Actuation]runs.Attempts{
		sequence.Electrical: {Product: "GH-20", Attempt: 1},
		sequence.Mechanical: {Product: "GH-20", Attempt: 1, Unfinished: 1},
		sequence.Hand:       {Product: "GH-20", Attempt: 1, Unfinished: 1},
	} {
		t.Run(string(how), func(t *testing.T) {
			s := openTemp(t)
			run := runstest.Passed(serial)
			run.Actuation = how
			holderDies(begin(t, s, run))
			h, err := s.Runs.History(t.Context(), serial)
			require.NoError(t, err)
			assert.Equal(t, []runs.Attempts{wants}, h.Products)
			starts, err := s.Runs.Starts(t.Context(), serial)
			require.NoError(t, err)
			require.Len(t, starts, 1)
			assert.Equal(t, how, starts[0].Actuation)
			again := begin(t, s, runstest.Passed(serial))
			assert.Equal(t, wants.Used()+1, again.Attempt)
			run = runstest.Passed(serial)
			run.Attempt, run.Started = again.Attempt, again.Started
			_, err = again.Save(t.Context(), run)
			require.NoError(t, err)
			y, err := s.Lines.Yields(t.Context(), lines.Filter{})
			require.NoError(t, err)
			assert.Equal(t, how == sequence.Electrical, y.Total.FirstPassed == 1, "what may have been found takes the first pass away")
		})
	}
}

// older makes a store from a dump of one of an earlier version.
func older(t *testing.T, dump string) string {
	t.Helper()
	script, err := os.ReadFile(filepath.Join("testdata", dump))
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "padjig.db")
	db, err := sql.Open("sqlite3", path)
	require.NoError(t, err)
	_, err = db.Exec(string(script))
	require.NoError(t, err)
	require.NoError(t, db.Close())
	return path
}

// A good harness is no attempt, no unit of any yield, and lets nothing leave;
// what was found without pressing a key is a fail like any other.
func TestAGoodHarnessCountsNowhere(t *testing.T) {
	s := openTemp(t)
	const serial = "24-000001"
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Electrical(runstest.Passed(serial)))
	require.NoError(t, err)
	stored, err := s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	assert.Equal(t, runstest.Electrical(runstest.Passed(serial)), stored.Run)

	h, err := s.Runs.History(t.Context(), serial)
	require.NoError(t, err)
	of := h.Of("GH-20", false)
	assert.Equal(t, runs.Attempts{Product: "GH-20", Runs: 1, Attempt: 1, Last: sequence.HarnessGood}, of)
	shipped, err := s.Returns.Shipped(t.Context(), serial, false, 100)
	require.NoError(t, err)
	assert.Nil(t, shipped)
	y, err := s.Lines.Yields(t.Context(), lines.Filter{})
	require.NoError(t, err)
	assert.Equal(t, lines.Counts{Runs: 1}, y.Total)
	var cells int
	require.NoError(t, raw(s).QueryRow(`SELECT count(*) FROM cell_reading`).Scan(&cells))
	assert.Zero(t, cells, "the jig's own resistor is no contact resistance")
	suspects, err := s.Care.Suspects(t.Context(), "J-0007", false)
	require.NoError(t, err)
	require.Len(t, suspects, 1)
	require.Len(t, suspects[0].Units, 1)
	assert.Empty(t, suspects[0].Units[0].Key)

	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(serial))
	require.NoError(t, err)
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Electrical(runstest.Passed(serial)))
	require.NoError(t, err)
	short := runstest.Electrical(runstest.Failed("24-000002"))
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), short)
	require.NoError(t, err)
	y, err = s.Lines.Yields(t.Context(), lines.Filter{})
	require.NoError(t, err)
	assert.Equal(t, lines.Counts{Units: 2, FirstPassed: 1, LastPassed: 1, Runs: 4}, y.Total)
	shipped, err = s.Returns.Shipped(t.Context(), serial, false, 100)
	require.NoError(t, err)
	require.NotNil(t, shipped)
	assert.EqualValues(t, 2, shipped.Run.Seq, "it left with the run that pressed its keys")
}

// Neither the program nor somebody beside it can store what an electrical press
// does not prove.
func TestWithoutAKeyPressedNothingPasses(t *testing.T) {
	s := openTemp(t)
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Electrical(runstest.Passed("24-000001")))
	require.NoError(t, err)
	for why, spoil := range map[string]func(*sequence.Run){
		"it passed, and no key was pressed":                        func(r *sequence.Run) { r.Outcome = sequence.Pass },
		"its keys were pressed, so it is more than a good harness": func(r *sequence.Run) { r.Actuation = sequence.Mechanical },
		"its harness is good with key 1 pass":                      func(r *sequence.Run) { r.Keys[0].Verdict = sequence.KeyPass },
		"its harness is good without a key":                        func(r *sequence.Run) { r.Keys = nil },
		`its harness is good with the finding "leak"`:              func(r *sequence.Run) { r.Findings = []sequence.Finding{{What: "leak"}} },
		`its harness is good without the step "key 1"`:             func(r *sequence.Run) { r.Steps[1].Done = false },
		`purpose "return test", and no key was pressed`:            func(r *sequence.Run) { r.Purpose = sequence.ReturnTest },
	} {
		run := runstest.Electrical(runstest.Passed("24-000002"))
		spoil(&run)
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
		require.ErrorIs(t, err, store.ErrRefused)
		assert.ErrorContains(t, err, why)
	}
	// As a trigger says it, whatever the program does.
	copyOf := `INSERT INTO run (seq, id, serial, revision, jig, station, simulated, actuation, operator, attempt, started_us, duration_us,
		outcome, reason, saved_us, steps, seats, keys, pairs, findings, hash)
		SELECT 2, randomblob(16), serial, revision, jig, station, simulated, ?, operator, attempt, started_us, duration_us,
		?, reason, saved_us, 0, 0, ?, 0, 0, hash FROM run WHERE id = ?`
	_, err = raw(s).Exec(copyOf, "electrical", "pass", 0, id)
	require.ErrorContains(t, err, "without a key pressed a unit has not passed")
	_, err = raw(s).Exec(copyOf, "mechanical", "harness good", 0, id)
	require.ErrorContains(t, err, "the run does not support a good harness")
	_, err = raw(s).Exec(copyOf, "mechanical", "harness bad", 0, id)
	require.ErrorContains(t, err, "CHECK constraint failed")
}

// Runs of before that passed without a key pressed stay as they were stored and
// no longer count as passed, in no place; the sums are those of a recount.
func TestElectricalPassesOfBeforeNoLongerCount(t *testing.T) {
	s := openChecked(t, older(t, "version9.sql"), testSeams()) // recounts and recomputes every hash when it closes
	var kept int
	require.NoError(t, raw(s).QueryRow(`SELECT count(*) FROM run WHERE outcome = 'pass' AND actuation = 'electrical'`).Scan(&kept))
	assert.Equal(t, 6, kept, "nothing stored was changed")

	history := func(serial string) runs.History {
		h, err := s.Runs.History(t.Context(), serial)
		require.NoError(t, err)
		return h
	}
	for _, simulated := range []bool{false, true} {
		of := history("24-000001").Of("GH-20", simulated)
		assert.False(t, of.Passed)
		assert.Zero(t, of.Judged)
		assert.Equal(t, sequence.HarnessGood, of.Last)
	}
	assert.Equal(t, 1, history("24-000002").Of("GH-20", false).Judged)
	assert.True(t, history("24-000003").Of("GH-20", false).Passed)
	assert.Equal(t, 2, history("24-000003").Of("GH-20", false).Judged, "a fail that was seen is one")

	y, err := s.Lines.Yields(t.Context(), lines.Filter{})
	require.NoError(t, err)
	assert.Equal(t, lines.Counts{Units: 3, FirstPassed: 1, LastPassed: 2, Retests: 1, Cures: 1, Runs: 7}, y.Total)
	shipped, err := s.Returns.Shipped(t.Context(), "24-000001", false, 100)
	require.NoError(t, err)
	assert.Nil(t, shipped)

	units, err := s.Runs.Unit(t.Context(), "24-000001")
	require.NoError(t, err)
	assert.Equal(t, sequence.HarnessGood, units[0].Outcome)
	recent, err := s.Runs.Recent(t.Context(), 1)
	require.NoError(t, err)
	assert.Equal(t, sequence.HarnessGood, recent[0].Outcome)

	reference, err := s.Care.Reference(t.Context(), "J-0007", "REF-1", false)
	require.NoError(t, err)
	assert.Nil(t, reference.Last, "a reference unit whose keys were not pressed was not checked")
	baseline, err := s.Care.Baseline(t.Context(), "J-0007", "REF-1", false)
	require.NoError(t, err)
	assert.Nil(t, baseline)
	checks, err := s.Care.LastChecks(t.Context(), time.Now(), false)
	require.NoError(t, err)
	assert.Empty(t, checks)

	c, err := s.Returns.Case(t.Context(), 1)
	require.NoError(t, err)
	assert.True(t, c.Done(sequence.FirstPress))
	assert.False(t, c.Done(sequence.ReturnTest))
	require.ErrorContains(t, c.Allows(sequence.Exercise), "the production test of case 1 is not stored yet")
	require.NoError(t, s.Returns.CorrectIntake(t.Context(), c, intake())) // what is asked for today, and was not then
	require.NoError(t, s.Returns.SayNoPhoto(t.Context(), c, returns.NoPhoto{Reason: "taken in before photos were asked for", By: "Jon"}))
	exercise := runstest.Passed("24-000004")
	exercise.Purpose, exercise.Case = sequence.Exercise, c.ID.String()
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), exercise)
	require.ErrorContains(t, err, "the stage of the returns case before this one is missing", "nor does the store let it")

	for _, view := range []string{"runs", "keys", "return_stages"} {
		var passes int
		actuation := "(SELECT actuation FROM run WHERE run.seq = " + view + ".seq)"
		require.NoError(t, raw(s).QueryRow("SELECT count(*) FROM "+view+" WHERE outcome = 'pass' AND "+actuation+" = 'electrical'").Scan(&passes))
		assert.Zero(t, passes, "view %s", view)
	}
}
