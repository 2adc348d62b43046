package lines

import (
	"context"
	"database/sql"
	"encoding/json"
	"slices"

	"padjig/results/hourly"
	"padjig/results/store"
)

// chosen is a condition on run_cell that takes the first judged runs of units.
type chosen struct {
	condition string
	args      []any
}

// choose turns a filter into a condition on run_cell, for the last n units at
// least; n of 0 takes all. Cells say where the runs lie, so that not every run
// needs to be looked at.
func choose(ctx context.Context, tx *sql.Tx, f Filter, n int) (chosen, error) {
	where, args := f.where()
	type span struct {
		cell, first, last int64
		units             int
	}
	spans, err := store.Collect(ctx, tx, func(rows *sql.Rows) (s span, err error) {
		return s, rows.Scan(&s.cell, &s.first, &s.last, &s.units)
	}, `SELECT cell, first_run, last_run, units`+hourly.AggregatesFrom+`WHERE units > 0 AND `+where+` ORDER BY last_run DESC`, args...)
	if err != nil {
		return chosen{}, err
	}
	cells, from, to, units := []int64{}, int64(1), int64(0), 0
	for i, s := range spans {
		if n > 0 && units >= n && s.last < from {
			break
		}
		if i == 0 {
			from, to = s.first, s.last
		}
		if units < n || n == 0 {
			from = min(from, s.first)
		}
		cells, units = append(cells, s.cell), units+s.units
	}
	slices.Sort(cells)
	list, err := json.Marshal(cells)
	return chosen{
		`run_cell.run BETWEEN ? AND ? AND run_cell.turn = 1 AND run_cell.cell IN (SELECT CAST(value AS bigint) FROM json_each(?))`,
		[]any{from, to, string(list)},
	}, err
}
