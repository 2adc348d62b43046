package results

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/hourly"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// Whoever can write the file can take the guards away. The check then finds
// what was changed.
func TestCheckFinds(t *testing.T) {
	for name, c := range map[string]struct{ script, want string }{
		"a reading": {
			`UPDATE run_key SET closed_mohm = 97 WHERE run = 1 AND place = 1`,
			"run 1 (unit 24-000001) is not what was stored",
		},
		"an outcome": {`UPDATE run SET outcome = 'pass' WHERE seq = 2`, "run 2 passed with a finding"},
		"a failed key": {
			`UPDATE run SET outcome = 'pass' WHERE seq = 2`,
			"run 2 passed with a key that did not",
		},
		"a step undone": {`UPDATE run_step SET done = 0 WHERE run = 1`, "run 1 passed with a step left out"},
		"a serial": {
			`UPDATE run SET serial = 'x' WHERE seq = 1`,
			"run 1 (unit x) is not what was stored",
		},
		"a key's label": {
			`UPDATE key SET label = '9' WHERE label = '1'`,
			"run 1 (unit 24-000001) is not what was stored",
		},
		"a station": {
			`UPDATE station SET host = 'elsewhere'`,
			"run 2 (unit 24-000002) is not what was stored",
		},
		"a lost key": {
			`DELETE FROM run_key WHERE run = 1 AND place = 1`,
			"run 1 has 1 rows in run_key and should have 2",
		},
		"a moved key": {
			`UPDATE run_key SET place = 7 WHERE run = 1 AND place = 1`,
			"run 1 has 2 rows in run_key and should have 2",
		},
		"lost keys": {
			`DELETE FROM run_key WHERE run = 1; UPDATE run SET keys = 0 WHERE seq = 1`,
			"run 1 passed without a key",
		},
		"lost findings": {
			`DELETE FROM run_finding; UPDATE run SET findings = 0`,
			"run 2 failed without a finding",
		},
		"a lost run": {`DELETE FROM run WHERE seq = 1`, "run numbers have a gap: 1 runs up to number 2"},
		"orphans": {
			`DELETE FROM run WHERE seq = 1`,
			"run_key refers to a row of run that is not there",
		},
		"an older id": {
			`UPDATE run SET id = zeroblob(16) WHERE seq = 2`,
			"run 2 has an id that is not after the one before",
		},
		"unreadable lists": {`UPDATE run_finding SET lines = '[1]'`, "run 2 cannot be read"},
	} {
		t.Run(name, func(t *testing.T) {
			path := t.TempDir() + "/padjig.db"
			s, err := OpenWith(t.Context(), path, testSeams())
			require.NoError(t, err)
			defer s.Close()
			_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
			require.NoError(t, err)
			_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Failed("24-000002"))
			require.NoError(t, err)
			faults, err := s.Check(t.Context())
			require.NoError(t, err)
			require.Empty(t, faults)

			forge(t, path, c.script)
			faults, err = s.Check(t.Context())
			require.NoError(t, err)
			assert.Contains(t, strings.Join(faults, "\n"), c.want)
		})
	}
}

// A reading has more digits in the records than a float has room for. The hash is of what
// is stored and not of the reading in ohm: one more in the last digit is seen, and a
// reading that nobody touched is not reported.
func TestCheckSeesEveryDigit(t *testing.T) {
	path := t.TempDir() + "/padjig.db"
	s, err := OpenWith(t.Context(), path, testSeams())
	require.NoError(t, err)
	defer s.Close()
	run := runstest.Failed("24-000001")
	for _, ohm := range []quantity.Ohm{9.007199254740995e12, 1.23456789012345e14, 7.77777777777777e14, 9.99999999999999e14} {
		run.Pairs = append(run.Pairs, sequence.Pair{Lines: [2]string{"R1", "R2"}, Ohm: fixture.Resistance{Value: ohm, U: 1}})
	}
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), run)
	require.NoError(t, err)
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	require.Empty(t, faults)
	forge(t, path, `UPDATE run_pair SET mohm = mohm + 1 WHERE place = 5`)
	faults, err = s.Check(t.Context())
	require.NoError(t, err)
	assert.Contains(t, strings.Join(faults, "\n"), "run 1 (unit 24-000001) is not what was stored")
}

// forge takes the guards away and runs a script.
func forge(t *testing.T, path, script string) {
	t.Helper()
	db := besides(t, path, "mode=rw&_foreign_keys=0")
	defer db.Close()
	guards, err := store.Collect(t.Context(), db, store.ScanText, `SELECT name FROM sqlite_schema WHERE type = 'trigger'`)
	require.NoError(t, err)
	for _, guard := range guards {
		_, err := db.Exec(`DROP TRIGGER ` + guard)
		require.NoError(t, err)
	}
	_, err = db.Exec(script)
	require.NoError(t, err)
}

// A run that is stored while the check goes by its cell changes the sums of the cell. They are held against all of its
// runs or not at all.
func TestCheckBesideTesting(t *testing.T) {
	s := openTemp(t)
	save := func(n int) {
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(fmt.Sprintf("24-%06d", n)))
		require.NoError(t, err)
	}
	save(1)
	save(2)
	sums := hourly.Recount(s.db)
	for seq := int64(1); seq <= 3; seq++ {
		if seq == 2 {
			save(3)
		}
		run, faults, err := s.Runs.Recompute(t.Context(), seq, seq)
		require.NoError(t, err)
		require.Empty(t, faults)
		found, err := sums.Add(t.Context(), run)
		require.NoError(t, err)
		assert.Empty(t, found)
	}
}

// What a check tells of how far it is only grows, and ends at 1; one that cannot go on ends, and says at what.
func TestCheckTellsHowFarItIs(t *testing.T) {
	s := openTemp(t)
	for n := range 3 {
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(fmt.Sprintf("24-%06d", n)))
		require.NoError(t, err)
	}
	var told []float64
	faults, err := s.CheckTold(t.Context(), func(done float64) { told = append(told, done) })
	require.NoError(t, err)
	require.Empty(t, faults)
	assert.IsIncreasing(t, told)
	assert.Equal(t, 1.0, told[len(told)-1])
	ctx, cancel := context.WithCancel(t.Context())
	_, err = s.CheckTold(ctx, func(float64) { cancel() })
	assert.ErrorIs(t, err, context.Canceled)
}

// Readings of a cell that are not those of its runs are found, and a run that is in no cell.
func TestCheckFindsSums(t *testing.T) {
	for name, c := range map[string]struct{ script, want string }{
		"sums":    {`UPDATE cell_reading SET packed = zeroblob(3)`, "the readings of cell 1 are not those of its runs"},
		"no sums": {`DELETE FROM cell_reading`, "the readings of cell 1 are not those of its runs"},
		"no cell": {`DELETE FROM run_cell WHERE run = 2`, "run 2 is in no cell"},
		"no jig":  {`UPDATE run SET jig = 99 WHERE seq = 2`, "run 2 cannot be read"},
	} {
		t.Run(name, func(t *testing.T) {
			path := t.TempDir() + "/padjig.db"
			s, err := OpenWith(t.Context(), path, testSeams())
			require.NoError(t, err)
			defer s.Close()
			for n := range 3 {
				_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(fmt.Sprintf("24-%06d", n)))
				require.NoError(t, err)
			}
			forge(t, path, c.script)
			faults, err := s.Check(t.Context())
			require.NoError(t, err)
			assert.Contains(t, strings.Join(faults, "\n"), c.want)
		})
	}
}
