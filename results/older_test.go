package results

import (
	"database/sql"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence"
)

// Stores written by earlier versions come up to date; their records read as
// they did, and the hashes stored then hold.
func TestRunsOfEarlierVersionsStillVerify(t *testing.T) {
	for name, want := range map[string]func() sequence.Run{
		"version3.sql": func() sequence.Run {
			run := failed("24-000001") // before polarities and trends were kept
			for i := range run.Pairs {
				run.Pairs[i].Forward, run.Pairs[i].Backward, run.Pairs[i].Trend = nil, nil, ""
			}
			return run
		},
		"version4.sql": func() sequence.Run { return failed("24-000001") },
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
			runs, err := s.Unit(t.Context(), "24-000001")
			require.NoError(t, err)
			require.Len(t, runs, 1)
			assert.Equal(t, want(), runs[0].Run)
			h, err := s.History(t.Context(), "24-000002")
			require.NoError(t, err)
			assert.True(t, h.Of("GH-20", false).Passed, "runs of before are production runs")
			var units int
			require.NoError(t, s.read.QueryRow(`SELECT sum(units) FROM cell`).Scan(&units))
			assert.Positive(t, units, "runs of before are counted")
		})
	}
}
