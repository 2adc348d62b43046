package count_test

import (
	"database/sql"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"padjig/results/plant/count"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/store"
)

// BenchmarkRuns counts the runs of a line in batches of 500: units that are new, and all of them anew, as if
// each had come late. It gives microseconds a run, and beside it those of forwarding them, counted, on the same server.
func BenchmarkRuns(b *testing.B) {
	const runs = 3000
	db, line := server.Plant(b), planttest.Records(b, runs, 1)
	_, err := forward.All(b.Context(), db, line, "line-1")
	require.NoError(b, err)
	placed, err := store.Collect(b.Context(), db, func(rows *sql.Rows) (p count.Placed, err error) {
		return p, rows.Scan(&p.Run, &p.Shift, &p.Lots)
	}, `SELECT run, shift, lots FROM run_cell JOIN cell USING (cell) ORDER BY run`)
	require.NoError(b, err)
	anew := func(b *testing.B) {
		_, err := db.ExecContext(b.Context(), `TRUNCATE run_cell, cell_finding, cell_reading, cell, unit`)
		require.NoError(b, err)
	}
	all := func(b *testing.B, batches func(func([]count.Placed) bool)) {
		for some := range batches {
			tx, err := db.BeginTx(b.Context(), nil)
			require.NoError(b, err)
			require.NoError(b, count.Runs(b.Context(), tx, some, nil))
			require.NoError(b, tx.Commit())
		}
	}
	perRun := func(b *testing.B) { b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N*runs), "µs/run") }
	b.Run("new units", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			anew(b)
			b.StartTimer()
			all(b, slices.Chunk(placed, 500))
		}
		perRun(b)
	})
	b.Run("backwards", func(b *testing.B) {
		late := slices.Clone(placed)
		slices.Reverse(late)
		for b.Loop() {
			b.StopTimer()
			anew(b)
			b.StartTimer()
			all(b, slices.Chunk(late, 500))
		}
		perRun(b)
	})
	b.Run("forwarding with it", func(b *testing.B) {
		for b.Loop() {
			b.StopTimer()
			empty := server.Plant(b)
			b.StartTimer()
			_, err := forward.All(b.Context(), empty, line, "line-1")
			require.NoError(b, err)
		}
		perRun(b)
	})
}
