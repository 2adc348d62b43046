package lines

import (
	"context"
	"database/sql"
	"encoding/json"
	"math"
	"slices"

	"padjig/results/hourly"
	"padjig/results/store"
)

// chosen is a condition on run_cell that takes the first judged runs of units.
type chosen struct {
	condition string
	args      []any
}

// newestCells are looked at first where the last units are asked for: a plant has hundreds of thousands.
const newestCells = 2000

// choose turns a filter into a condition on run_cell, for the last n units at
// least; n of 0 takes all. Cells say where the runs lie, so that not every run
// needs to be looked at.
func choose(ctx context.Context, tx *sql.Tx, f Filter, n int) (chosen, error) {
	where, args := f.where()
	type span struct {
		cell, first, last int64
		units             int
	}
	newest := func(most int64) ([]span, error) {
		return store.Collect(ctx, tx, func(rows *sql.Rows) (s span, err error) {
			return s, rows.Scan(&s.cell, &s.first, &s.last, &s.units)
		}, `SELECT cell, first_run, last_run, units`+hourly.AggregatesFrom+`WHERE units > 0 AND `+where+` ORDER BY last_run DESC, cell LIMIT ?`,
			append(slices.Clone(args), most)...)
	}
	cells, from, to, units := []int64{}, int64(1), int64(0), 0
	enough := func(spans []span) bool { // whether the last n units lie in some of these
		cells, units = cells[:0], 0
		for i, s := range spans {
			if n > 0 && units >= n && s.last < from {
				return true
			}
			if i == 0 {
				from, to = s.first, s.last
			}
			if units < n || n == 0 {
				from = min(from, s.first)
			}
			cells, units = append(cells, s.cell), units+s.units
		}
		return false
	}
	most := int64(math.MaxInt64)
	if n > 0 {
		most = newestCells
	}
	spans, err := newest(most)
	if err == nil && !enough(spans) && int64(len(spans)) == most {
		if spans, err = newest(math.MaxInt64); err == nil {
			enough(spans)
		}
	}
	if err != nil {
		return chosen{}, err
	}
	slices.Sort(cells)
	list, err := json.Marshal(cells)
	return chosen{
		`run_cell.run BETWEEN ? AND ? AND run_cell.turn = 1 AND run_cell.cell IN (SELECT CAST(value AS bigint) FROM json_each(?))`,
		[]any{from, to, string(list)},
	}, err
}
