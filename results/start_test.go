package results

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/lines"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/runs/elsewhere"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// startOf is what is known of a run before it is made.
func startOf(run sequence.Run) runs.Start {
	return runs.Start{
		Serial: run.Serial, Jig: run.Jig, Simulated: run.Simulated, Actuation: run.Actuation, Operator: run.Operator,
		Purpose: run.Purpose, Case: run.Case, Started: run.Started,
	}
}

func agreed(runs.History) error { return nil }

func begin(t testing.TB, s *Store, run sequence.Run) *runs.Begun {
	t.Helper()
	b, err := s.Runs.Begin(context.Background(), runstest.Climate(), startOf(run), agreed)
	require.NoError(t, err)
	return b
}

// holderDies does what the kernel does when a process ends, however it ends.
func holderDies(b *runs.Begun) { b.LetGo() }

func leftUnfinished(t testing.TB, s *Store) {
	t.Helper()
	start := startOf(runstest.Passed("24-000003"))
	start.Asked = elsewhere.Answer{Word: elsewhere.Late, Took: time.Second}
	b, err := s.Runs.Begin(context.Background(), runstest.Climate(), start, agreed)
	require.NoError(t, err)
	holderDies(b)
	require.NoError(t, runs.CloseAbandoned(context.Background(), s.db))
}

func unfinished(t testing.TB, s *Store, serial string) int {
	t.Helper()
	h, err := s.Runs.History(context.Background(), serial)
	require.NoError(t, err)
	return h.Of("GH-20", false).Unfinished
}

func TestStartIsClosedByItsRun(t *testing.T) {
	s := openTemp(t)
	b := begin(t, s, runstest.Passed("24-000001"))
	assert.Equal(t, 1, b.Attempt)
	h, err := s.Runs.History(t.Context(), "24-000001")
	require.NoError(t, err)
	require.NotNil(t, h.InHand)
	assert.Equal(t, b.ID, h.InHand.ID)
	id, err := b.Save(t.Context(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	run, err := s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	assert.Equal(t, runstest.Passed("24-000001"), run.Run)
	starts, err := s.Runs.Starts(t.Context(), "24-000001")
	require.NoError(t, err)
	assert.Empty(t, starts)
	h, err = s.Runs.History(t.Context(), "24-000001")
	require.NoError(t, err)
	assert.Nil(t, h.InHand)
	assert.Equal(t, 2, h.Of("GH-20", false).Next())
}

// One unit is in one place, whatever it is there for, in one process or in two:
// two stores of a process have nothing in common but the file.
func TestUnitIsInOnePlace(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	one, two := openChecked(t, path, testSeams()), openChecked(t, path, testSeams())
	for _, purpose := range []sequence.Purpose{sequence.Production, sequence.GaugeStudy} {
		first := runstest.Passed("24-000001")
		first.Simulated = true
		b := begin(t, one, first)
		other := runstest.Passed("24-000001")
		other.Purpose = purpose
		for _, s := range []*Store{one, two} {
			_, err := s.Runs.Begin(t.Context(), runstest.Climate(), startOf(other), agreed)
			inHand, typed := errors.AsType[*runs.InHandError](err)
			require.True(t, typed, "%v", err)
			assert.Equal(t, b.ID, inHand.ID)
			assert.Equal(t, "J-0007", inHand.Jig.Serial)
			assert.Equal(t, store.ThisStation().Host, inHand.Host)
			assert.Equal(t, first.Started, inHand.Started)
		}
		begin(t, two, runstest.Passed("24-000002")).LetGo() // another unit is free
		first.Attempt = b.Attempt
		_, err := b.Save(t.Context(), first)
		require.NoError(t, err)
	}
	other := begin(t, two, runstest.Passed("24-000001"))
	assert.Equal(t, 1, other.Attempt, "simulated ones are counted apart")
	_, err := other.Save(t.Context(), runstest.Passed("24-000001"))
	require.NoError(t, err)
}

// Who looks at a unit without a test has it to themselves as well, against tests and
// against others who look, whoever came first; it leaves nothing in the records.
func TestUnitIsLookedAtInOnePlace(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	one, two := openChecked(t, path, testSeams()), openChecked(t, path, testSeams())
	refused := func(err error, checked bool) {
		t.Helper()
		inHand, typed := errors.AsType[*runs.InHandError](err)
		require.True(t, typed, "%v", err)
		assert.Equal(t, checked, inHand.Checked())
		assert.Equal(t, "24-000001", inHand.Serial)
	}
	release, err := one.Runs.Hold(t.Context(), "24-000001")
	require.NoError(t, err)
	for _, s := range []*Store{one, two} {
		_, err = s.Runs.Hold(t.Context(), "24-000001")
		refused(err, true)
		_, err = s.Runs.Begin(t.Context(), runstest.Climate(), startOf(runstest.Passed("24-000001")), agreed)
		refused(err, true)
	}
	begin(t, two, runstest.Passed("24-000002")).LetGo() // another unit is free
	release()
	begun := begin(t, two, runstest.Passed("24-000001"))
	_, err = one.Runs.Hold(t.Context(), "24-000001")
	refused(err, false)
	_, err = begun.Save(t.Context(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	release, err = one.Runs.Hold(t.Context(), "24-000001")
	require.NoError(t, err)
	release()
	list, err := one.Runs.Starts(t.Context(), "24-000001")
	require.NoError(t, err)
	assert.Empty(t, list)
}

// A start whose holder is gone is closed when the unit is asked for, and counts
// as an attempt: what it had found is not known. A clock set back changes nothing.
func TestHolderGone(t *testing.T) {
	with := testSeams()
	now := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	with.Now = func() time.Time { return now }
	s := openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), with)
	dead := begin(t, s, runstest.Passed("24-000001"))
	now = now.Add(-8766 * time.Hour)
	_, err := s.Runs.Begin(t.Context(), runstest.Climate(), startOf(runstest.Passed("24-000001")), agreed)
	require.Error(t, err)
	holderDies(dead)
	assert.Equal(t, 1, unfinished(t, s, "24-000001"), "before anybody closes it")
	b := begin(t, s, runstest.Passed("24-000001"))
	assert.Equal(t, 2, b.Attempt)
	run := runstest.Passed("24-000001")
	run.Attempt = 2
	_, err = b.Save(t.Context(), run)
	require.NoError(t, err)
	starts, err := s.Runs.Starts(t.Context(), "24-000001")
	require.NoError(t, err)
	require.Len(t, starts, 1)
	assert.Equal(t, dead.ID, starts[0].ID)
	assert.False(t, starts[0].InHand)
	var units, first, last int
	require.NoError(t, raw(s).QueryRow(`SELECT sum(units), sum(first_passed), sum(last_passed) FROM cell`).Scan(&units, &first, &last))
	assert.Equal(t, []int{1, 0, 1}, []int{units, first, last}, "it did not pass at its first attempt")
}

func TestHolderGoneIsClosedAtTheNextStart(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	s := openChecked(t, path, testSeams())
	holderDies(begin(t, s, runstest.Passed("24-000001")))
	goesOn := begin(t, s, runstest.Passed("24-000002"))
	defer holderDies(goesOn) // a start that nobody holds is let go of with its memory
	other := openChecked(t, path, testSeams())
	closed, err := store.Collect(t.Context(), raw(other), store.ScanText, `SELECT serial FROM starts WHERE unfinished`)
	require.NoError(t, err)
	assert.Equal(t, []string{"24-000001"}, closed)
	openChecked(t, path, testSeams()) // and once only: the numbers are checked when it closes
	assert.Equal(t, 1, unfinished(t, other, "24-000001"))
	assert.Equal(t, 0, unfinished(t, other, "24-000002"))
}

// What a run had found before it was aborted counts; an interruption that found
// nothing does not, nor does a unit that must be seated again.
func TestAttemptsUsed(t *testing.T) {
	s := openTemp(t)
	for _, c := range []struct {
		outcome  sequence.Outcome
		findings int
		next     int
	}{
		{sequence.Aborted, 0, 1}, {sequence.Reseat, 1, 1}, {sequence.Incomplete, 0, 1},
		{sequence.Aborted, 1, 2}, {sequence.Fail, 1, 3}, {sequence.Aborted, 2, 4},
	} {
		run := runstest.Failed("24-000001")
		run.Outcome, run.Findings = c.outcome, nil
		for range c.findings {
			run.Findings = append(run.Findings, sequence.Finding{What: "key open", Key: "1"})
		}
		b := begin(t, s, run)
		run.Attempt = b.Attempt
		assert.Equal(t, c.next > b.Attempt, runs.UsesAttempt(run))
		_, err := b.Save(t.Context(), run)
		require.NoError(t, err)
		h, err := s.Runs.History(t.Context(), "24-000001")
		require.NoError(t, err)
		assert.Equal(t, c.next, h.Of("GH-20", false).Next(), "%+v", c)
	}
}

// Between the look at the history and the start another may have tested the
// unit: what is known is looked at again, in the moment of the claim.
func TestClaimLooksAgain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	one, two := openChecked(t, path, testSeams()), openChecked(t, path, testSeams())
	h, err := one.Runs.History(t.Context(), "24-000001")
	require.NoError(t, err)
	require.False(t, h.Of("GH-20", false).Passed)
	_, err = begin(t, two, runstest.Passed("24-000001")).Save(t.Context(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	no := errors.New("passed already")
	_, err = one.Runs.Begin(t.Context(), runstest.Climate(), startOf(runstest.Passed("24-000001")), func(h runs.History) error {
		assert.True(t, h.Of("GH-20", false).Passed)
		return no
	})
	assert.ErrorIs(t, err, no)
	starts, err := one.Runs.Starts(t.Context(), "24-000001")
	require.NoError(t, err)
	assert.Empty(t, starts, "a refusal leaves nothing behind")
}

// The commit of the start fails once, before or after it took effect.
func TestStartCommitFails(t *testing.T) {
	for _, took := range []bool{true, false} {
		with, armed := failing(took, func(i int) bool { return i == 1 })
		s := openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), with)
		*armed = true
		b, err := s.Runs.Begin(t.Context(), runstest.Climate(), startOf(runstest.Passed("24-000001")), agreed)
		if took {
			require.NoError(t, err)
		} else {
			require.ErrorIs(t, err, errDisk)
			b = begin(t, s, runstest.Passed("24-000001"))
		}
		assert.Equal(t, 1, b.Attempt)
		_, err = b.Save(t.Context(), runstest.Passed("24-000001"))
		require.NoError(t, err)
		assert.Equal(t, 0, unfinished(t, s, "24-000001"))
	}
}

// A run that could not be stored leaves its start: the unit can be tested again,
// as a further attempt.
func TestRunThatCannotBeStored(t *testing.T) {
	s := openTemp(t)
	wrong := runstest.Passed("24-000001")
	wrong.Findings = runstest.Failed("24-000001").Findings
	_, err := begin(t, s, wrong).Save(t.Context(), wrong)
	require.ErrorIs(t, err, store.ErrRefused)
	assert.Equal(t, 2, begin(t, s, runstest.Passed("24-000001")).Attempt)
}

// A stage of a returns case is claimed like any run, and numbered within its case.
func TestStageIsClaimed(t *testing.T) {
	s := openTemp(t)
	c, err := opened(t, s, "24-000001", intake())
	require.NoError(t, err)
	run := stage(c, sequence.FirstPress, sequence.Fail)
	b := begin(t, s, run)
	_, err = s.Runs.Begin(t.Context(), runstest.Climate(), startOf(run), agreed)
	_, typed := errors.AsType[*runs.InHandError](err)
	require.True(t, typed, "%v", err)
	holderDies(b)
	b = begin(t, s, run)
	assert.Equal(t, 2, b.Attempt)
	run.Attempt = 2
	_, err = b.Save(t.Context(), run)
	require.NoError(t, err)
	_, err = s.Runs.Begin(t.Context(), runstest.Climate(), startOf(run), agreed)
	assert.ErrorIs(t, err, returns.ErrStage, "a second first press would be none")
}

// The store itself refuses a run that is not the one that was started, a second
// run of a start, and to call unfinished what has its run.
func TestStartsAreGuarded(t *testing.T) {
	s := openTemp(t)
	b := begin(t, s, runstest.Passed("24-000001"))
	another := runstest.Passed("24-000002")
	_, err := b.Save(t.Context(), another)
	require.ErrorContains(t, err, "not the one that was started")
	_, err = b.Save(t.Context(), runstest.Passed("24-000001"))
	require.NoError(t, err, "what was measured is stored though the unit was let go of")
	_, err = b.Save(t.Context(), runstest.Passed("24-000001"))
	require.ErrorContains(t, err, "append-only")
	err = s.db.Update(t.Context(), func(tx *sql.Tx) error {
		e := store.Entry{Table: "run_unfinished"}
		e.Set("start", 1)
		e.Set("at_us", time.Now())
		_, err := e.Insert(t.Context(), tx)
		return err
	})
	require.ErrorContains(t, err, "the start has its run")
}

// Somebody else holds the records for too long: nothing is begun.
func TestAnotherProgramHoldsTheStoreAtTheStart(t *testing.T) {
	s := openTemp(t)
	_, err := raw(s).ExecContext(t.Context(), `PRAGMA busy_timeout = 0`)
	require.NoError(t, err)
	other := besides(t, s.Path(), "mode=rw&_txlock=immediate")
	defer other.Close()
	tx, err := other.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	_, err = s.Runs.Begin(t.Context(), runstest.Climate(), startOf(runstest.Passed("24-000001")), agreed)
	assert.ErrorIs(t, err, store.ErrBusy)
	require.NoError(t, tx.Rollback())
	assert.Equal(t, 1, begin(t, s, runstest.Passed("24-000001")).Attempt)
}

// What a run found before it was aborted is in the record, and in the sums: its
// unit has not passed at its first attempt.
func TestAbortedAfterAFindingIsNoFirstPass(t *testing.T) {
	s := openTemp(t)
	run := runstest.Failed("24-000001")
	run.Outcome, run.Reason = sequence.Aborted, "the lid was opened"
	_, err := begin(t, s, run).Save(t.Context(), run)
	require.NoError(t, err)
	run = runstest.Passed("24-000001")
	run.Attempt = 2
	id, err := begin(t, s, run).Save(t.Context(), run)
	require.NoError(t, err)
	stored, err := s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	assert.Equal(t, 1, stored.Turn)
	y, err := s.Lines.Yields(t.Context(), lines.Filter{})
	require.NoError(t, err)
	assert.Equal(t, lines.Counts{Units: 1, LastPassed: 1, Runs: 2, Aborted: 1}, y.Total)
}

// The migration takes first passes away from the sums of before that were none
// at a first attempt, as counting anew would.
func TestFirstPassesOfBefore(t *testing.T) {
	s := openTemp(t) // whose check at the end counts anew
	for _, serial := range []string{"24-000001", "24-000002", "24-000003"} {
		run := runstest.Passed(serial)
		if serial != "24-000001" {
			run.Attempt = 2
		}
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
		require.NoError(t, err)
	}
	script, err := fs.ReadFile(store.Real().Migrations, "0011_runs_of_starts.sql")
	require.NoError(t, err)
	_, after, found := strings.Cut(string(script), "WITH later AS")
	require.True(t, found)
	statement, _, _ := strings.Cut(after, ";")
	_, err = raw(s).Exec(`UPDATE cell SET first_passed = 3; WITH later AS` + statement)
	require.NoError(t, err)
	y, err := s.Lines.Yields(t.Context(), lines.Filter{})
	require.NoError(t, err)
	assert.Equal(t, 1, y.Total.FirstPassed)
}
