package lines

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
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
//
// The sums say how many there are and in which cells they lie, so that fails are gone through in the order of time only until all are found.
func (s *Records) OpenUnits(ctx context.Context, f Filter) ([]OpenUnit, error) {
	var list []OpenUnit
	err := s.ask(ctx, "look up open units", f, nil, func(tx *sql.Tx) error {
		c, all, err := chooseCounted(ctx, tx, f, "units - last_passed")
		if err != nil || all == 0 {
			return err
		}
		first, last := c.args[0], c.args[1]
		list, err = store.Collect(ctx, tx, func(rows *sql.Rows) (u OpenUnit, err error) {
			return u, rows.Scan(&u.Serial, &u.Jig, &u.Seq, store.Time(&u.Failed), &u.Runs, &u.Cause)
		}, `
			SELECT last.serial, (SELECT serial FROM jig WHERE jig.jig = CASE first.outcome WHEN 'fail' THEN first.jig ELSE last.jig END), first.seq,
			       CASE first.outcome WHEN 'fail' THEN first.started_us ELSE last.started_us END, found.turn,
			       coalesce((SELECT what || ': ' || location FROM run_finding WHERE run_finding.run = found.last AND place = 0), '')
			FROM (SELECT failed.seq AS last, of.turn,
			             CASE of.turn WHEN 1 THEN failed.seq ELSE (SELECT run.seq `+judgedRuns+` AND run.seq BETWEEN ? AND ? AND rc.turn = 1) END AS first
			      FROM run AS failed CROSS JOIN run_cell AS of ON of.run = failed.seq
			      WHERE failed.verdict = 'fail' AND failed.seq >= ? AND of.run >= ? AND failed.simulated = ? AND failed.purpose = '' AND of.turn > 0
			        AND (SELECT purpose FROM cell WHERE cell.cell = of.cell) = ''
			        AND (SELECT run.seq `+judgedRuns+` AND run.seq > failed.seq AND run.seq >= ? AND rc.turn > 0 LIMIT 1) IS NULL) AS found
			CROSS JOIN run_cell ON run_cell.run = found.first
			CROSS JOIN run AS first ON first.seq = found.first CROSS JOIN run AS last ON last.seq = found.last
			WHERE `+c.condition+` AND first.seq BETWEEN ? AND ? AND last.seq >= ?
			ORDER BY found.last LIMIT ?`, slices.Concat([]any{first, last, first, first, f.Simulated, first}, c.args, []any{first, last, first, all})...)
		return err
	})
	slices.SortFunc(list, func(a, b OpenUnit) int { return cmp.Compare(a.Seq, b.Seq) })
	return list, err
}

// judgedRuns are the runs by which the unit of a failed one is judged, as rc.turn says.
const judgedRuns = `FROM run CROSS JOIN run_cell AS rc ON rc.run = run.seq CROSS JOIN cell ON cell.cell = rc.cell
	WHERE run.serial = failed.serial AND run.simulated = failed.simulated AND cell.purpose = ''
	  AND run.revision IN (SELECT b.revision FROM revision AS a JOIN revision AS b USING (code) WHERE a.revision = failed.revision)`
