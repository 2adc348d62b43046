package lines

import (
	"context"
	"database/sql"
	"time"

	"padjig/results/store"
)

// OpenUnit is a unit that failed and did not pass since.
type OpenUnit struct {
	Serial string
	Jig    string    // that it failed on
	Seq    int64     // of its first judged run
	Failed time.Time // first; of one that passed first, when it was judged last
	Cause  string    // worst finding of its last judged run
	Runs   int       // judged runs so far
}

// OpenUnits gives the units judged first in the runs that a filter chooses
// whose last judged run, wherever it was made, is a fail.
func (s *Records) OpenUnits(ctx context.Context, f Filter) ([]OpenUnit, error) {
	var list []OpenUnit
	err := s.ask(ctx, "look up open units", f, nil, func(tx *sql.Tx) error {
		c, err := choose(ctx, tx, f, 0)
		if err != nil {
			return err
		}
		list, err = store.Collect(ctx, tx, func(rows *sql.Rows) (u OpenUnit, err error) {
			return u, rows.Scan(&u.Serial, &u.Jig, &u.Seq, store.Time(&u.Failed), &u.Runs, &u.Cause)
		}, `
			WITH last AS (
				SELECT first.seq AS first, first.serial, first.outcome AS came, first.jig, first.started_us,
				       (SELECT run.seq FROM run JOIN run_cell AS rc ON rc.run = run.seq JOIN cell USING (cell)
				        WHERE run.serial = first.serial AND run.seq >= first.seq AND rc.turn > 0 AND cell.purpose = '' AND run.simulated = first.simulated
				          AND run.revision IN (SELECT b.revision FROM revision AS a JOIN revision AS b USING (code) WHERE a.revision = first.revision)
				        ORDER BY run.seq DESC LIMIT 1) AS last
				FROM run AS first CROSS JOIN run_cell ON run_cell.run = first.seq
				WHERE `+c.condition+` AND first.seq BETWEEN ? AND ?
				  AND first.serial IN (SELECT serial FROM run WHERE verdict = 'fail' AND seq >= ?))
			SELECT last.serial, jig.serial, first, CASE came WHEN 'fail' THEN last.started_us ELSE run.started_us END, run_cell.turn,
			       coalesce(what || ': ' || location, '')
			FROM last JOIN run ON run.seq = last.last JOIN run_cell ON run_cell.run = run.seq
			JOIN jig ON jig.jig = CASE came WHEN 'fail' THEN last.jig ELSE run.jig END
			LEFT JOIN run_finding ON run_finding.run = run.seq AND run_finding.place = 0
			WHERE run.outcome = 'fail' ORDER BY first`, append(c.args, c.args[0], c.args[1], c.args[0])...)
		return err
	})
	return list, err
}
