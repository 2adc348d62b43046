package results

import (
	"database/sql"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs/runstest"
	"padjig/sequence"
)

// Stores written by earlier versions come up to date; their records read as
// they did, and the hashes stored then hold.
func TestRunsOfEarlierVersionsStillVerify(t *testing.T) {
	for name, want := range map[string]func() sequence.Run{
		"version3.sql": func() sequence.Run {
			run := runstest.Failed("24-000001") // before polarities and trends were kept
			for i := range run.Pairs {
				run.Pairs[i].Forward, run.Pairs[i].Backward, run.Pairs[i].Trend = nil, nil, ""
			}
			return run
		},
		"version4.sql": func() sequence.Run { return runstest.Failed("24-000001") },
	} {
		t.Run(name, func(t *testing.T) {
			script, err := os.ReadFile(filepath.Join("testdata", name))
			require.NoError(t, err)
			path := filepath.Join(t.TempDir(), "padjig.db")
			db, err := sql.Open("sqlite3", path)
			require.NoError(t, err)
			_, err = db.Exec(string(script))
			require.NoError(t, err)
			require.NoError(t, db.Close())

			s := openChecked(t, path, testSeams()) // recomputes every hash when it closes
			runs, err := s.Runs.Unit(t.Context(), "24-000001")
			require.NoError(t, err)
			require.Len(t, runs, 1)
			assert.Equal(t, want(), runs[0].Run)
			h, err := s.Runs.History(t.Context(), "24-000002")
			require.NoError(t, err)
			assert.True(t, h.Of("GH-20", false).Passed, "runs of before are production runs")
			var units int
			require.NoError(t, raw(s).QueryRow(`SELECT sum(units) FROM cell`).Scan(&units))
			assert.Positive(t, units, "runs of before are counted")
		})
	}
}

// What earlier versions stored in words alone is read as what it was: as codes. Nothing
// of it is rewritten, so that hashes stay.
func TestWordsOfEarlierVersionsBecomeCodes(t *testing.T) {
	for _, dump := range []string{"version3.sql", "version4.sql", "version9.sql"} {
		s := openChecked(t, older(t, dump), testSeams())
		var seq int64
		require.NoError(t, raw(s).QueryRow(`SELECT min(run) FROM run_finding WHERE what = 'key open'`).Scan(&seq))
		var serial string
		require.NoError(t, raw(s).QueryRow(`SELECT serial FROM run WHERE seq = ?`, seq).Scan(&serial))
		runs, err := s.Runs.Unit(t.Context(), serial)
		require.NoError(t, err)
		found := false
		for _, r := range runs {
			if r.Seq == seq {
				found = true
				assert.Equal(t, runstest.KeyOne, r.Findings[0].At, dump)
				assert.Zero(t, r.Findings[2].At, "%s: no sentence of ours", dump)
			}
		}
		assert.True(t, found, dump)
	}

	s := openTemp(t)
	run := runstest.Failed("24-000001")
	run.Outcome = sequence.Aborted
	run.Reason = `step "self-test": jig J-0007 reads its own check resistor of 50 ohm as 52.5 ohm: have the fixture engineer look at range 50 ohm`
	run.Findings = []sequence.Finding{
		{What: "lines shorted", Place: "between R1 (pin 1) and R2 (pin 2); gone when read again; only after the keys were pressed"},
		{What: "leak", Place: "between lines, at rest; gone when looked for"},
	}
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), run) // as they did: without codes
	require.NoError(t, err)
	var codes int
	require.NoError(t, raw(s).QueryRow(`
		SELECT count(site) + count(how) + (SELECT count(ended) FROM run) FROM run_finding`).Scan(&codes))
	require.Zero(t, codes)
	runs, err := s.Runs.Unit(t.Context(), run.Serial)
	require.NoError(t, err)
	got := runs[0].Run
	assert.Equal(t, sequence.JigMisreads, got.Why.Code)
	assert.True(t, got.Findings[0].Says(sequence.GoneAgain) && got.Findings[0].Says(sequence.OnlyAfter))
	assert.True(t, got.Findings[1].Says(sequence.Gone))
	assert.Equal(t, run.Findings[0].Place, got.Findings[0].Place)
}
