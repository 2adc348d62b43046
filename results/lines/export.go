package lines

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"padjig/results/store"
)

// ExportRow is one key of one run with what belongs to the run: a row of an
// export, by the names and in the order of its columns; the names say the units.
// Nil is not measured, or beyond the range where AtLeast is true.
type ExportRow struct {
	Seq       int64     `parquet:"seq"`
	Serial    string    `parquet:"serial"`
	Product   string    `parquet:"product,dict"`
	Revision  string    `parquet:"revision,dict"`
	Jig       string    `parquet:"jig,dict"`
	Operator  string    `parquet:"operator,dict"`
	Shift     string    `parquet:"shift,dict"`
	Membrane  string    `parquet:"membrane,dict"`
	Dome      string    `parquet:"dome,dict"`
	Board     string    `parquet:"board,dict"`
	Actuation string    `parquet:"actuation,dict"`
	Simulated bool      `parquet:"simulated"`
	Started   time.Time `parquet:"started,timestamp(microsecond)"`
	Attempt   int32     `parquet:"attempt"`
	Turn      int32     `parquet:"judged_run"` // 1: first judged run of the unit, 2: second ...; 0: not judged
	Outcome   string    `parquet:"outcome,dict"`
	Worst     string    `parquet:"worst,dict"` // worst finding of the run and its place
	Key       string    `parquet:"key,dict"`
	Verdict   string    `parquet:"verdict,dict"`
	Closed    *float64  `parquet:"closed_ohm,optional"`
	ClosedU   *float64  `parquet:"closed_u_ohm,optional"` // standard uncertainty
	AtLeast   bool      `parquet:"closed_at_least"`
	Make      *float64  `parquet:"make_ms,optional"`
	Break     *float64  `parquet:"break_ms,optional"`
	Forward   *float64  `parquet:"forward_volt,optional"`
}

// exportPage is how many runs are read on one state of the store: a long export
// must not keep the log from being emptied.
const exportPage = 2000

// Export gives every key of every production run that a filter chooses, in the
// order of the runs, to take; total tells take's caller how many runs the
// cells hold, and done how many of all runs were gone through.
func (s *Records) Export(ctx context.Context, f Filter, take func(ExportRow) error, progress func(done, total int64)) error {
	var first, last, done, total int64
	err := s.ask(ctx, "look up runs", f, nil, func(tx *sql.Tx) error {
		rows, err := yieldRows(ctx, tx, f, nil)
		for _, r := range rows {
			first, last = r.FirstRun, r.LastRun
		}
		if err != nil || len(rows) == 0 {
			return err
		}
		return tx.QueryRowContext(ctx, `SELECT count(*) FROM run_cell WHERE run BETWEEN ? AND ?`, first, last).Scan(&total)
	})
	if err == nil && last == 0 {
		err = fmt.Errorf("%w: %s", ErrNoUnits, f)
	}
	for from := first; err == nil && from <= last; {
		var to, n int64
		err = s.db.View(ctx, func(tx *sql.Tx) error {
			err := tx.QueryRowContext(ctx, `
				SELECT max(run), count(*) FROM (SELECT run FROM run_cell WHERE run BETWEEN ? AND ? ORDER BY run LIMIT ?) AS page`,
				from, last, exportPage).Scan(&to, &n)
			if err == nil {
				err = exportRuns(ctx, tx, f, from, to, take)
			}
			return err
		})
		from, done = to+1, done+n
		if progress != nil && err == nil {
			progress(done, total)
		}
	}
	if err != nil {
		return fmt.Errorf("export from %s: %w", s.db.Path(), err)
	}
	return nil
}

func exportRuns(ctx context.Context, tx *sql.Tx, f Filter, from, to int64, take func(ExportRow) error) error {
	where, args := f.where()
	if !f.From.IsZero() {
		where, args = where+" AND run.started_us >= ?", append(args, f.From.UnixMicro())
	}
	if !f.To.IsZero() {
		where, args = where+" AND run.started_us < ?", append(args, f.To.UnixMicro())
	}
	return store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var r ExportRow
		err := rows.Scan(&r.Seq, &r.Serial, &r.Product, &r.Revision, &r.Jig, &r.Operator, &r.Shift, &r.Membrane, &r.Dome,
			&r.Board, &r.Actuation, &r.Simulated, store.Time(&r.Started), &r.Attempt, &r.Turn, &r.Outcome, &r.Worst, &r.Key,
			&r.Verdict, &r.Closed, &r.ClosedU, &r.AtLeast, &r.Make, &r.Break, &r.Forward)
		if err != nil {
			return err
		}
		return take(r)
	}, `
		SELECT run.seq, run.serial, revision.code, revision.label, jig.serial, run.operator, coalesce(shift.name, ''),
		       coalesce(membrane, ''), coalesce(dome, ''), coalesce(board, ''), run.actuation, run.simulated, run.started_us,
		       run.attempt, run_cell.turn, run.verdict,
		       coalesce((SELECT what || ': ' || location FROM run_finding WHERE run_finding.run = run.seq AND place = 0), ''),
		       key.label, CASE passed WHEN 1 THEN 'pass' WHEN 0 THEN 'fail' ELSE 'untested' END,
		       closed_ohm, closed_u_ohm, coalesce(closed_at_least, 0), make_us / CAST(1e3 AS double precision),
		       break_us / CAST(1e3 AS double precision), forward_uv / CAST(1e6 AS double precision)
		FROM run_cell CROSS JOIN cell USING (cell) CROSS JOIN run ON run.seq = run_cell.run
		JOIN revision ON revision.revision = run.revision JOIN jig ON jig.jig = run.jig
		LEFT JOIN lot_change ON lot_change.seq = cell.lots LEFT JOIN shift ON shift.shift = cell.shift
		JOIN run_key ON run_key.run = run.seq JOIN key ON key.key = run_key.key
		WHERE run_cell.run BETWEEN ? AND ? AND `+where+` ORDER BY run_cell.run, run_key.place`,
		append([]any{from, to}, args...)...)
}
