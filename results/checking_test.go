package results_test

import (
	"database/sql"
	"flag"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/answers/ratio"
)

var checkedRuns = flag.Int("checked", 3000, "runs that BenchmarkCheck checks")

// BenchmarkCheck compares a check of the records, every hash and every sum made anew, with what SQLite itself looks at on
// request, its own pages and the references, in turn on the same file. Both are told for one run, in
// processor time, since a check works on as many processors as there are.
func BenchmarkCheck(b *testing.B) {
	s := simulatedLine(b, *checkedRuns)
	runs := time.Duration(*checkedRuns)
	db, err := sql.Open("sqlite3", "file://"+s.Path()+"?mode=ro")
	require.NoError(b, err)
	defer db.Close()
	var pairs ratio.Pairs
	for b.Loop() {
		pairs.Take(func() time.Duration {
			return ratio.Processors(func() {
				wrong, err := s.Check(b.Context())
				require.NoError(b, err)
				require.Empty(b, wrong)
			}) / runs
		}, func() time.Duration {
			return ratio.Processors(func() {
				var said string
				require.NoError(b, db.QueryRowContext(b.Context(), `PRAGMA integrity_check`).Scan(&said))
				require.Equal(b, "ok", said)
				rows, err := db.QueryContext(b.Context(), `PRAGMA foreign_key_check`)
				require.NoError(b, err)
				assert.False(b, rows.Next(), "a row that leads nowhere")
				require.NoError(b, rows.Close())
			}) / runs
		})
	}
	pairs.Report(b, "check", "sqlite")
}
