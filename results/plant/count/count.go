// Package count counts the runs of a plant into hourly aggregates, by the rule of a station
// ([hourly.Unit.Next]) over the runs of all stations.
//
// Which hour, shift and lots a run belongs to was decided at its station and is taken over. Where it
// stands among the runs of its unit is decided here: in the order of the runs' numbers, whichever
// station they are of and whenever they arrive. So a run that arrives late changes what
// runs after it add; what they added is taken out and put in anew, in the transaction that stores the run.
package count

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
)

// Tx is the transaction that stored the runs, [sql.Tx] or a [sql.Conn] inside one. It reads what is committed.
type Tx interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// Placed is a run that is stored, and what its station decided of its cell. All are numbers of the
// plant (see results/plant/postgres), 0 for no shift and no lots.
type Placed struct{ Run, Shift, Lots int64 }

// Runs counts runs whose rows of run, run_key and run_finding are stored, in this transaction or
// before. Runs that are counted already are counted anew, so that doing it twice changes nothing.
//
// checked are the runs of rows of reference_check that this transaction stored: they are no longer
// production, wherever they were counted before. A run that is not here yet may be among them.
//
// Call it once in a transaction, last before the cursor moves on: it locks words, units and then cells, each
// in order, so that two that do so never wait for each other. Other words (revision, key, ...) are to be
// interned before. A deadlock over those (40P01) is the caller's to repeat.
func Runs(ctx context.Context, tx Tx, placed []Placed, checked []int64) error {
	c := &counting{Tx: tx, ctx: ctx, placed: map[int64]Placed{}}
	for _, p := range placed {
		c.placed[p.Run] = p
		c.batch = append(c.batch, p.Run)
	}
	c.batch = append(c.batch, checked...)
	if len(c.batch) == 0 {
		return nil
	}
	slices.Sort(c.batch)
	c.batch = slices.Compact(c.batch)
	for _, step := range []func() error{
		c.internFaults, c.lockUnits, c.load, c.lockCells, c.fold, c.place, c.addCounts, c.addFindings, c.addReadings, c.addPads,
	} {
		if err := step(); err != nil {
			return fmt.Errorf("count runs of the plant: %w", err)
		}
	}
	return nil
}

// counting is one call of Runs.
type counting struct {
	Tx
	ctx    context.Context
	placed map[int64]Placed
	batch  []int64 // runs, ascending

	serials     []string // of units that are locked
	first, last int64    // their runs lie between
	units       map[unit][]*run
	numbers     map[key]int64     // of cells
	cells       map[int64]*change // by number
	moved       []*run            // those whose place changed
}

// span is the range of runs a query looks into, for PostgreSQL to leave out the months beside it.
func span(runs []int64) (from, to int64) { return slices.Min(runs), slices.Max(runs) }

func (c *counting) exec(query string, args ...any) error {
	_, err := c.ExecContext(c.ctx, query, args...)
	return err
}
