package care

import (
	"context"
	"database/sql"
	"fmt"

	"padjig/results/store"
	"padjig/sequence"
)

// Steadiness is what the records say of a jig itself over some runs: whether it read alike.
type Steadiness struct {
	Misread int // runs that ended because it read its own check resistors wrong
	Failed  int // verifications that found it out of tolerance, among the runs or next behind them
	Bad     int // checks of reference units that did not show what they must
	Checked []CheckedUnit
}

// CheckedUnit is a good reference unit that showed what it must, so many times.
type CheckedUnit struct {
	Unit   string
	Checks int
}

// Upset reports whether anything speaks against the jig.
func (s Steadiness) Upset() bool { return s.Misread+s.Failed+s.Bad > 0 }

// Steady looks at a jig from a run of it to another, by the order of records.
func (s *Records) Steady(ctx context.Context, jig string, simulated bool, from, to int64) (out Steadiness, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up how jig %s read", jig), func(tx *sql.Tx) error {
		const here = `jig IN (SELECT jig FROM jig WHERE serial = ?) AND simulated = ?`
		err := tx.QueryRowContext(ctx, `
			SELECT (SELECT count(*) FROM run WHERE `+here+` AND seq BETWEEN ? AND ? AND ended ->> '$[0]' = ?),
			       (SELECT count(*) FROM calibration WHERE `+here+` AND kind = 'verify' AND good = 0 AND after_run >= ?
			          AND seq <= coalesce((SELECT min(seq) FROM calibration WHERE `+here+` AND kind = 'verify' AND after_run >= ?), seq)),
			       (SELECT count(*) FROM reference_check JOIN run ON run.seq = reference_check.run
			        WHERE `+here+` AND good = 0 AND run.seq BETWEEN ? AND ?)`,
			jig, simulated, from, to, string(sequence.JigMisreads),
			jig, simulated, from, jig, simulated, to,
			jig, simulated, from, to).Scan(&out.Misread, &out.Failed, &out.Bad)
		if err != nil {
			return err
		}
		scan := func(rows *sql.Rows) (u CheckedUnit, err error) { return u, rows.Scan(&u.Unit, &u.Checks) }
		out.Checked, err = store.Collect(ctx, tx, scan, `
			SELECT unit, count(*) FROM reference_check JOIN run ON run.seq = reference_check.run
			WHERE `+here+` AND kind = 'good' AND good = 1 AND actuation <> 'electrical' AND run.seq BETWEEN ? AND ?
			GROUP BY unit ORDER BY unit`, jig, simulated, from, to)
		return err
	})
	return out, err
}
