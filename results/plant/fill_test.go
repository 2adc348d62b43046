package plant_test

import (
	"database/sql"
	"testing"

	"github.com/stretchr/testify/require"

	"padjig/results/plant/forward"
	"padjig/results/store"
)

// numbers are what the plant calls the rows of one station: by the station's number that of the plant.
type numbers struct {
	member      int
	runs, cells map[int64]int64
}

// fill brings the records of a station to a plant.
func fill(t *testing.T, plant *sql.DB, name string, records forward.Records) numbers {
	t.Helper()
	_, err := forward.All(t.Context(), plant, records, name)
	require.NoError(t, err)
	n := numbers{runs: map[int64]int64{}, cells: map[int64]int64{}}
	require.NoError(t, plant.QueryRowContext(t.Context(), `SELECT member FROM member WHERE name = ?`, name).Scan(&n.member))
	at := map[int64]int64{} // cells of the plant by the station's number of a run
	tx, err := plant.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	defer tx.Rollback()
	require.NoError(t, store.Visit(t.Context(), tx, func(rows *sql.Rows) error {
		var local, run, cell int64
		err := rows.Scan(&local, &run, &cell)
		n.runs[local], at[local] = run, cell
		return err
	}, `SELECT local, seq, cell FROM run JOIN run_cell ON run_cell.run = run.seq WHERE member = ?`, n.member))
	require.NoError(t, records.View(t.Context(), func(tx *sql.Tx) error {
		return store.Visit(t.Context(), tx, func(rows *sql.Rows) error {
			var run, cell int64
			err := rows.Scan(&run, &cell)
			n.cells[cell] = at[run]
			return err
		}, `SELECT run, cell FROM run_cell`)
	}))
	_, err = plant.ExecContext(t.Context(), `ANALYZE`)
	require.NoError(t, err)
	return n
}
