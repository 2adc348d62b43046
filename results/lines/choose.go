package lines

import (
	"context"
	"database/sql"
	"encoding/json"
	"slices"

	"padjig/results/hourly"
	"padjig/results/store"
)

// chosen is a condition on run_cell that takes the first judged runs of units; the numbers between which they lie are the first arguments.
type chosen struct {
	condition string
	args      []any
	any       string // the same for all runs, judged or not
	// held is condition for runs that something else finds: PostgreSQL, which cannot know how few cells there are, would else find
	// them by the cells. What is compared with true is no join.
	held string
}

func chosenOf(cells string, args ...any) chosen {
	const between, first = "run_cell.run BETWEEN ? AND ? AND ", " AND run_cell.turn = 1"
	in := "run_cell.cell IN (" + cells + ")"
	return chosen{between + in + first, args, between + in, between + "(" + in + ") = (1 = 1)" + first}
}

// newestCells are looked at first where the last units are asked for: a plant has hundreds of thousands.
const newestCells = 2000

// choose turns a filter into a condition on run_cell, for the last n units at
// least; n of 0 takes all. Cells say where the runs lie, so that not every run
// needs to be looked at.
func choose(ctx context.Context, tx *sql.Tx, f Filter, n int) (chosen, error) {
	if n <= 0 {
		return chooseAll(ctx, tx, f, "units")
	}
	return chooseNewest(ctx, tx, f, "units", n)
}

// chooseAll takes all cells that count something. They are named by what chooses them: there may be hundreds of thousands.
func chooseAll(ctx context.Context, tx *sql.Tx, f Filter, count string) (chosen, error) {
	c, _, err := chooseCounted(ctx, tx, f, count)
	return c, err
}

// chooseCounted also tells how much they count together.
func chooseCounted(ctx context.Context, tx *sql.Tx, f Filter, count string) (chosen, int64, error) {
	where, args := f.where()
	var first, last, all sql.NullInt64
	if err := tx.QueryRowContext(ctx, `SELECT min(first_run), max(last_run), sum(`+count+`)`+hourly.AggregatesFrom+`WHERE `+count+` > 0 AND `+where, args...).
		Scan(&first, &last, &all); err != nil {
		return chosen{}, 0, err
	}
	return chosenOf(`SELECT cell.cell`+hourly.AggregatesFrom+`WHERE `+count+` > 0 AND `+where, append([]any{first.Int64, last.Int64}, args...)...), all.Int64, nil
}

// chooseNewest goes through the newest cells until those that count n together: each counts as many of the runs that are looked for as it
// has, or more.
func chooseNewest(ctx context.Context, tx *sql.Tx, f Filter, count string, n int) (chosen, error) {
	c, _, err := chooseNewestOf(ctx, tx, f, count, n)
	return c, err
}

// chooseNewestOf also tells how many these cells count: fewer than n where no others do.
func chooseNewestOf(ctx context.Context, tx *sql.Tx, f Filter, count string, n int) (chosen, int, error) {
	where, args := f.where()
	type span struct {
		cell, first, last int64
		units             int
	}
	newest := func(most int64) ([]span, error) {
		return store.Collect(ctx, tx, func(rows *sql.Rows) (s span, err error) {
			return s, rows.Scan(&s.cell, &s.first, &s.last, &s.units)
		}, `SELECT cell, first_run, last_run, `+count+hourly.AggregatesFrom+`WHERE `+count+` > 0 AND `+where+` ORDER BY last_run DESC, cell LIMIT ?`,
			append(slices.Clone(args), most)...)
	}
	cells, from, to, units := []int64{}, int64(1), int64(0), 0
	enough := func(spans []span) bool { // whether the last n units lie in some of these
		cells, units = cells[:0], 0
		for i, s := range spans {
			if units >= n && s.last < from {
				return true
			}
			if i == 0 {
				from, to = s.first, s.last
			}
			if units < n {
				from = min(from, s.first)
			}
			cells, units = append(cells, s.cell), units+s.units
		}
		return false
	}
	for most := int64(newestCells); ; most *= 8 {
		spans, err := newest(most)
		if err != nil {
			return chosen{}, 0, err
		}
		if enough(spans) || int64(len(spans)) < most {
			break
		}
	}
	slices.Sort(cells)
	list, err := json.Marshal(cells)
	return chosenOf(`SELECT CAST(value AS bigint) FROM json_each(?)`, from, to, string(list)), units, err
}
