package results

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

var errDisk = errors.New("input/output error")

// failing makes the commits fail whose number (from 1) is in fails, before or
// after they took effect. Commits of the migration are not counted.
func failing(took bool, fails func(n int) bool) (with store.Dependencies, armed *bool) {
	with = testSeams()
	armed = new(false)
	count := 0
	with.Commit = func(tx *sql.Tx) error {
		if !*armed {
			return tx.Commit()
		}
		if count++; !fails(count) {
			return tx.Commit()
		}
		if took {
			return errors.Join(errDisk, tx.Commit())
		}
		return errors.Join(errDisk, tx.Rollback())
	}
	return with, armed
}

// The n-th commit fails once, for n up to more commits than there are, after
// and before it took effect: every run is stored exactly once.
func TestCommitFailsOnce(t *testing.T) {
	const runs = 4
	for _, took := range []bool{true, false} {
		for n := 1; n <= runs+2; n++ {
			t.Run(fmt.Sprintf("took effect %v, commit %d", took, n), func(t *testing.T) {
				with, armed := failing(took, func(i int) bool { return i == n })
				s := openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), with)
				*armed = true
				var ids []store.ID
				for i := range runs {
					id, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(fmt.Sprintf("24-%06d", i)))
					require.NoError(t, err)
					ids = append(ids, id)
				}
				recent, err := s.Runs.Recent(t.Context(), runs+1)
				require.NoError(t, err)
				require.Len(t, recent, runs)
				for i, id := range ids {
					run, err := s.Runs.Run(t.Context(), id)
					require.NoError(t, err)
					assert.Equal(t, runstest.Passed(fmt.Sprintf("24-%06d", i)), run.Run)
					assert.Equal(t, int64(i+1), run.Seq)
				}
			})
		}
	}
}

// From the n-th commit on all fail. What was acknowledged is there, and nothing else.
func TestCommitFailsForEver(t *testing.T) {
	for _, took := range []bool{true, false} {
		t.Run(fmt.Sprintf("took effect %v", took), func(t *testing.T) {
			with, armed := failing(took, func(i int) bool { return i >= 3 })
			s := openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), with)
			*armed = true
			acknowledged := 0
			for range 5 {
				_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
				if err == nil {
					acknowledged++
					continue
				}
				assert.ErrorIs(t, err, errDisk)
				assert.NotErrorIs(t, err, store.ErrInDoubt, "it was looked up")
				assert.ErrorContains(t, err, "nothing was stored: check the disk")
			}
			runs, err := s.Runs.Unit(t.Context(), "24-000001")
			require.NoError(t, err)
			assert.Len(t, runs, acknowledged)
			// Where the commit took effect, looking it up proved it each time.
			assert.Equal(t, map[bool]int{true: 5, false: 2}[took], acknowledged)
		})
	}
}

// The disk goes away in the middle of a commit, and comes back later.
func TestInDoubt(t *testing.T) {
	for _, took := range []bool{true, false} {
		t.Run(fmt.Sprintf("took effect %v", took), func(t *testing.T) {
			disk := filepath.Join(t.TempDir(), "disk")
			require.NoError(t, os.Mkdir(disk, 0o700))
			with, armed := failing(took, func(int) bool { return true })
			inner := with.Commit
			with.Commit = func(tx *sql.Tx) error {
				err := inner(tx)
				if *armed {
					require.NoError(t, errors.Join(os.Rename(disk, disk+".gone"), os.Mkdir(disk, 0o700)))
				}
				return err
			}
			s, err := OpenWith(t.Context(), filepath.Join(disk, "padjig.db"), with)
			require.NoError(t, err)
			*armed = true
			_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
			assert.ErrorIs(t, err, store.ErrInDoubt)
			assert.ErrorIs(t, err, errDisk)
			assert.ErrorContains(t, err, "stop testing")
			*armed = false
			// No new file was made in place of the lost one, or the folder would not go.
			require.NoError(t, errors.Join(os.Remove(disk), os.Rename(disk+".gone", disk)))

			_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000002"))
			assert.ErrorIs(t, err, store.ErrMoved, "nothing more until it is opened anew")
			require.NoError(t, s.Close())
			s = openChecked(t, filepath.Join(disk, "padjig.db"), testSeams())
			runs, err := s.Runs.Unit(t.Context(), "24-000001")
			require.NoError(t, err)
			assert.Len(t, runs, map[bool]int{true: 1, false: 0}[took])
			_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000002"))
			require.NoError(t, err)
		})
	}
}

func TestInDoubtAfterAnotherStationSaved(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	other := openChecked(t, path, testSeams())
	with, armed := failing(false, func(i int) bool { return i == 1 })
	inner := with.Commit
	with.Commit = func(tx *sql.Tx) error {
		err := inner(tx)
		if errors.Is(err, errDisk) {
			_, saveErr := other.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000077"))
			require.NoError(t, saveErr)
		}
		return err
	}
	s := openChecked(t, path, with)
	*armed = true
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	run, err := s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	assert.Equal(t, int64(2), run.Seq) // and the check at the end finds the ids in order
}

// A full disk: SQLite itself reports it, from a limit on the file's pages that
// a new connection does not have, as a disk has room again without the ballast.
func TestDiskFull(t *testing.T) {
	s := openTemp(t)
	require.NoError(t, s.Room(t.Context()))
	require.FileExists(t, s.Path()+"-ballast")
	_, err := raw(s).ExecContext(t.Context(), `PRAGMA max_page_count = 1`) // no more than it has
	require.NoError(t, err)
	for i := range 40 {
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Failed(fmt.Sprintf("24-%06d", i)))
		require.NoError(t, err)
	}
	assert.NoFileExists(t, s.Path()+"-ballast")
	recent, err := s.Runs.Recent(t.Context(), 100)
	require.NoError(t, err)
	assert.Len(t, recent, 40)
}

func TestDiskStaysFull(t *testing.T) {
	full := sqlite3.Error{Code: sqlite3.ErrFull}
	with, armed := failing(false, func(int) bool { return false })
	with.Commit = func(tx *sql.Tx) error {
		if !*armed {
			return tx.Commit()
		}
		return errors.Join(full, tx.Rollback())
	}
	s := openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), with)
	*armed = true
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	assert.ErrorIs(t, err, store.ErrNoRoom)
	sqlite, _ := errors.AsType[sqlite3.Error](err)
	assert.Equal(t, sqlite3.ErrFull, sqlite.Code)
	assert.ErrorContains(t, err, "nothing was stored: move other files off this disk")
}

func TestAnotherProgramHoldsTheStore(t *testing.T) {
	s := openTemp(t)
	_, err := raw(s).ExecContext(t.Context(), `PRAGMA busy_timeout = 0`)
	require.NoError(t, err)
	other := besides(t, s.Path(), "mode=rw&_txlock=immediate")
	defer other.Close()
	tx, err := other.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	assert.ErrorIs(t, err, store.ErrBusy)
	assert.ErrorContains(t, err, "end the other program")
	require.NoError(t, tx.Rollback())
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
}

// A person pressing Ctrl-C does not undo what was measured.
func TestSaveOutlivesItsContext(t *testing.T) {
	s := openTemp(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	id, err := s.Runs.Save(ctx, runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	_, err = s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
}

func TestRefusedRuns(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*runs.Revision, *sequence.Run)
		want   string
	}{
		"no serial":        {func(_ *runs.Revision, r *sequence.Run) { r.Serial = "" }, "serial number is empty"},
		"serial no text":   {func(_ *runs.Revision, r *sequence.Run) { r.Serial = "24\xff" }, "is no text"},
		"serial cut short": {func(_ *runs.Revision, r *sequence.Run) { r.Serial = "24\x0099" }, "is no text"},
		"no hash":          {func(v *runs.Revision, r *sequence.Run) { v.Hash, r.Hash = "", "" }, "no hash"},
		"another revision": {
			func(v *runs.Revision, _ *sequence.Run) { v.Label = "D" },
			"the revision given is GH-20 D",
		},
		"another product": {func(_ *runs.Revision, r *sequence.Run) { r.Product = "GH-6" }, "the run is of GH-6"},
		"another hash": {
			func(_ *runs.Revision, r *sequence.Run) { r.Hash = "00" },
			"the run is of GH-20 C (00)",
		},
		"definition":    {func(v *runs.Revision, _ *sequence.Run) { v.Definition = nil }, "no JSON"},
		"title no text": {func(v *runs.Revision, _ *sequence.Run) { v.Title = "\xff" }, "is no text"},
		"attempt":       {func(_ *runs.Revision, r *sequence.Run) { r.Attempt = 0 }, "the first is 1"},
		"duration":      {func(_ *runs.Revision, r *sequence.Run) { r.Duration = -sequence.Seconds(time.Second) }, "duration -1s"},
		"actuation":     {func(_ *runs.Revision, r *sequence.Run) { r.Actuation = "wish" }, `actuation "wish"`},
		"outcome":       {func(_ *runs.Revision, r *sequence.Run) { r.Outcome = "" }, `outcome ""`},
		"verdict": {
			func(_ *runs.Revision, r *sequence.Run) { r.Keys[0].Verdict = "maybe" },
			`key 1: verdict "maybe"`,
		},
		"pass, failed key": {
			func(_ *runs.Revision, r *sequence.Run) { r.Keys[1].Verdict = sequence.KeyFail },
			"passed with key 2 fail",
		},
		"pass, untested": {
			func(_ *runs.Revision, r *sequence.Run) { r.Keys[1].Verdict = sequence.KeyUntested },
			"key 2 untested",
		},
		"pass, no key": {func(_ *runs.Revision, r *sequence.Run) { r.Keys = nil }, "passed without a key"},
		"pass, step undone": {
			func(_ *runs.Revision, r *sequence.Run) { r.Steps[1].Done = false },
			`without the step "key 1"`,
		},
		"pass, finding": {
			func(_ *runs.Revision, r *sequence.Run) {
				r.Findings = []sequence.Finding{{What: "short", Place: "lines R1 and R2"}}
			},
			`with the finding "short" at lines R1 and R2`,
		},
		"closed NaN": {
			func(_ *runs.Revision, r *sequence.Run) { r.Keys[0].Closed.Value -= quantity.Open },
			"key 1: a resistance of -Inf ohm",
		},
		"bounce": {
			func(_ *runs.Revision, r *sequence.Run) { r.Keys[0].Make = &fixture.Bounce{Time: -1} }, "key 1: a bounce of -1ns",
		},
		"seat": {
			func(_ *runs.Revision, r *sequence.Run) { r.Seats[1].Loop.U = -1 },
			"pin 2: a standard uncertainty of -1",
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := openTemp(t)
			rev, run := runstest.Climate(), runstest.Passed("24-000001")
			c.change(&rev, &run)
			_, err := s.Runs.Save(t.Context(), rev, run)
			assert.ErrorIs(t, err, store.ErrRefused)
			assert.ErrorContains(t, err, c.want)
			recent, err := s.Runs.Recent(t.Context(), 1)
			require.NoError(t, err)
			assert.Empty(t, recent)
		})
	}
}

func TestAllRefusalsAtOnce(t *testing.T) {
	run := runstest.Passed("")
	run.Attempt, run.Outcome = 0, "fine"
	run.Seats[0].Loop.U = -1
	_, err := openTemp(t).Runs.Save(t.Context(), runstest.Climate(), run)
	for _, want := range []string{"serial number is empty", "attempt 0", `outcome "fine"`, "pin 1"} {
		assert.ErrorContains(t, err, want)
	}
}

// A damaged byte in a name that a jig sent must not cost a result.
func TestDamagedNamesAreKeptReadable(t *testing.T) {
	s := openTemp(t)
	run := runstest.Passed("24-000001")
	run.Jig.Firmware, run.Operator = "1.4\xfe", "In\x00es"
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
	require.NoError(t, err)
	stored, err := s.Runs.Unit(t.Context(), "24-000001")
	require.NoError(t, err)
	assert.Equal(t, "1.4\uFFFD", stored[0].Jig.Firmware)
	assert.Equal(t, "In\uFFFDes", stored[0].Operator)
}

func TestRevisionIsStoredOnce(t *testing.T) {
	s := openTemp(t)
	for i := range 3 {
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(fmt.Sprint(i)))
		require.NoError(t, err)
	}
	definitions, err := store.Collect(t.Context(), raw(s), store.ScanText, `SELECT definition FROM revision`)
	require.NoError(t, err)
	assert.Equal(t, []string{string(runstest.Climate().Definition)}, definitions)

	relabelled, run := runstest.Climate(), runstest.Passed("3")
	relabelled.Label, run.Revision = "D", "D"
	_, err = s.Runs.Save(t.Context(), relabelled, run)
	require.NoError(t, err)
	stored, err := s.Runs.Unit(t.Context(), "3")
	require.NoError(t, err)
	assert.Equal(t, "D", stored[0].Revision, "the same meaning under another label")

	altered := runstest.Climate()
	altered.Definition = []byte(`{}`)
	altered.Title = "altered"
	_, err = s.Runs.Save(t.Context(), altered, runstest.Passed("4"))
	assert.ErrorIs(t, err, store.ErrRefused)
	assert.ErrorContains(t, err, "another definition")
}

// SQLite has no negative zero; the check at the end would see another hash.
func TestNegativeZero(t *testing.T) {
	s := openTemp(t)
	run := runstest.Failed("24-000001")
	run.Findings[1].Value = new(sequence.Number(math.Copysign(0, -1)))
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
	require.NoError(t, err)
}

func TestNoIDReturnsAfterTheClockWasSetBack(t *testing.T) {
	now := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)
	with := testSeams()
	with.Now = func() time.Time { return now }
	dir := t.TempDir()
	var ids []store.ID
	for range 3 {
		s, err := OpenWith(t.Context(), dir+"/padjig.db", with)
		require.NoError(t, err)
		for range 3 {
			id, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
			require.NoError(t, err)
			ids = append(ids, id)
			now = now.Add(-time.Hour)
		}
		now = now.AddDate(-1, 0, 0)
		checkAndClose(t, s) // looks at the order of all ids
	}
	assert.True(t, ids[0].Before(ids[8]))
}
