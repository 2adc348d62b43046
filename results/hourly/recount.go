package hourly

import (
	"context"
	"database/sql"
	"fmt"

	"padjig/results/floor"
	"padjig/results/runs"
	"padjig/results/store"
)

// CatchUp counts the runs that are in no cell, those stored before there were cells, and then makes the spans that are missing.
func CatchUp(ctx context.Context, db *store.DB) error {
	if err := countAll(ctx, db); err != nil {
		return err
	}
	return makeSpans(ctx, db)
}

func countAll(ctx context.Context, db *store.DB) error {
	const page = 1000
	for {
		var behind bool
		err := db.Update(ctx, func(tx *sql.Tx) error {
			// Without sums of migration 5 there is nothing to catch up with.
			var there bool
			err := tx.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE name = 'run_cell'`).Scan(&there)
			if err != nil || !there {
				return err
			}
			behind, err = countPage(ctx, tx, page)
			return err
		})
		if err != nil {
			return fmt.Errorf("count runs: %w", err)
		}
		if !behind {
			return nil
		}
	}
}

// makeSpans makes all spans that are missing, some in a transaction.
func makeSpans(ctx context.Context, db *store.DB) error {
	const together = 20
	for more := true; more; {
		err := db.Update(ctx, func(tx *sql.Tx) error {
			var there bool
			var newest sql.NullInt64
			err := tx.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE name = 'span'`).Scan(&there)
			if err == nil && there {
				err = tx.QueryRowContext(ctx, `SELECT max(hour) FROM cell`).Scan(&newest)
			}
			if more = newest.Valid; err == nil && more {
				more, err = makeSome(ctx, tx, newest.Int64, together)
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// makeSome makes the next spans of a station before an hour, so many at most, and reports whether there may be more.
func makeSome(ctx context.Context, tx *sql.Tx, before int64, most int) (more bool, err error) {
	zone, err := floor.ZoneIn(ctx, tx)
	more = err == nil
	for range most {
		if more {
			more, err = Maker{Zone: zone}.Next(ctx, tx, before)
		}
	}
	return more, err
}

// countPage counts the next runs that are not counted, and reports whether there may be more.
func countPage(ctx context.Context, tx *sql.Tx, page int) (more bool, err error) {
	var complete bool
	err = tx.QueryRowContext(ctx, `
		SELECT (SELECT count(*) FROM run_cell) = (SELECT coalesce(max(seq), 0) FROM run)`).Scan(&complete)
	if err != nil || complete {
		return false, err
	}
	seqs, err := store.Collect(ctx, tx, store.ScanInt, `
		SELECT seq FROM run WHERE NOT EXISTS (SELECT 1 FROM run_cell WHERE run = seq) ORDER BY seq LIMIT ?`, page)
	if err != nil {
		return false, err
	}
	w := counting{store.Writer{Ctx: ctx, Tx: tx, Interned: store.Interned{}}, NewCounter()}
	for _, seq := range seqs {
		run, err := counted(ctx, tx, seq)
		if err != nil {
			return false, err
		}
		if err := w.count(run); err != nil {
			return false, err
		}
	}
	return len(seqs) == page, nil
}

// counted reads a run with what its cell needs.
func counted(ctx context.Context, tx *sql.Tx, seq int64) (runs.Counted, error) {
	rec, _, err := runs.Reader{Ctx: ctx, Tx: tx}.Record(seq)
	run := runs.Counted{Seq: seq, Record: rec}
	if err != nil {
		return run, err
	}
	err = tx.QueryRowContext(ctx, `
		SELECT revision, jig,
		       CASE WHEN EXISTS (SELECT 1 FROM reference_check WHERE reference_check.run = run.seq) THEN 'reference' ELSE purpose END
		FROM run WHERE seq = ?`, seq).Scan(&run.RevisionNumber, &run.JigNumber, &run.As)
	return run, err
}

// SetAside counts a run anew that turned out not to be production.
func SetAside(ctx context.Context, tx *sql.Tx, id store.ID) error {
	w := counting{store.Writer{Ctx: ctx, Tx: tx, Interned: store.Interned{}}, NewCounter()}
	var seq, cell int64
	err := w.Tx.QueryRowContext(w.Ctx, `
		SELECT seq, cell FROM run JOIN run_cell ON run = seq WHERE id = ?`, id).Scan(&seq, &cell)
	if err != nil {
		return fmt.Errorf("set run %s aside: %w", id, err)
	}
	run, err := counted(ctx, tx, seq)
	if err != nil {
		return err
	}
	before := run
	before.As = run.Purpose
	if err := w.uncount(before, cell); err != nil {
		return err
	}
	return w.count(run)
}

// uncount takes the newest run of a unit out of its cell.
func (w counting) uncount(run runs.Counted, cell int64) error {
	b, err := w.before(run)
	if err != nil {
		return err
	}
	t, err := w.judgement(run, b)
	if err != nil {
		return err
	}
	if _, _, err := w.addRun(cell, run, t, -1); err != nil {
		return err
	}
	if err := w.addFindings(cell, run, t, -1); err != nil {
		return err
	}
	return w.readingsAnew(cell)
}

// readingsAnew sums up the readings of a cell again: smallest and largest
// cannot be taken back.
func (w counting) readingsAnew(cell int64) error {
	if _, err := w.Tx.ExecContext(w.Ctx, `DELETE FROM cell_reading WHERE cell = ?`, cell); err != nil {
		return err
	}
	seqs, err := store.Collect(w.Ctx, w.Tx, store.ScanInt, `
		SELECT run FROM run_cell WHERE cell = ? AND turn = 1 ORDER BY run`, cell)
	if err != nil {
		return err
	}
	for _, seq := range seqs {
		run, err := counted(w.Ctx, w.Tx, seq)
		if err != nil {
			return err
		}
		if _, err := w.addReadings(cell, run, nil); err != nil {
			return err
		}
	}
	return nil
}
