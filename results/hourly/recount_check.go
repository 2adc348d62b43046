package hourly

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"strings"

	"padjig/results/floor"
	"padjig/results/runs"
	"padjig/results/store"
)

// The sums are compared with what the runs say, counted another way: SQL over
// all runs at once for the counts, one pass over the readings for the histograms.

// Checks are how the sums are looked at, all but those of the readings: these take
// [Recounted].
func Checks() []store.Check {
	return []store.Check{store.Breaches(Rules("")...), recountShifts, store.Breaches(SpanRules(false)...), Maker{}.WrongReadings}
}

// judgedRuns numbers the judged runs of each unit.
const judgedRuns = `
	WITH kind AS (
		SELECT run.seq, serial, code, simulated, verdict AS outcome, attempt, verdict IN ('pass', 'fail') AS judged,
		       CASE WHEN reference_check.run IS NULL THEN purpose ELSE 'reference' END AS purpose
		FROM run JOIN revision USING (revision) LEFT JOIN reference_check ON reference_check.run = run.seq
	), turned AS (
		SELECT seq, outcome, attempt = 1 OR purpose <> '' AS at_first, row_number() OVER unit AS turn, lag(outcome) OVER unit AS before,
		       last_value(outcome) OVER (unit ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING) AS finally
		FROM kind WHERE judged
		WINDOW unit AS (PARTITION BY serial, code, simulated, purpose ORDER BY seq)
	)`

// Rules ask what is wrong with the counts, in sentences. The texts are understood by SQLite and PostgreSQL.
// ofStation is one more condition that a change of lots has to meet to be a run's, where the runs of many stations are counted.
func Rules(ofStation string) []string {
	return []string{notCounted, wrongTurn, strings.Replace(wrongCell, "after_run < run.seq", "after_run < run.seq"+ofStation, 1), wrongCounts, wrongFindings}
}

const (
	notCounted = `SELECT 'run ' || seq || ' is not counted' FROM run
	 WHERE NOT EXISTS (SELECT 1 FROM run_cell WHERE run_cell.run = run.seq)`

	wrongTurn = judgedRuns + `
	SELECT 'run ' || run || ' is counted as judged run ' || run_cell.turn || ' of its unit and is number ' ||
	       coalesce(turned.turn, 0)
	FROM run_cell LEFT JOIN turned ON turned.seq = run WHERE run_cell.turn <> coalesce(turned.turn, 0)`

	wrongCell = `SELECT 'run ' || run.seq || ' is counted in the wrong cell, ' || run_cell.cell
	 FROM run JOIN run_cell ON run_cell.run = run.seq JOIN cell USING (cell) JOIN revision ON revision.revision = run.revision
	 JOIN jig ON jig.jig = run.jig
	 WHERE started_us - 3600000000 * cell.hour NOT BETWEEN 0 AND 3599999999 OR cell.revision <> run.revision OR cell.jig <> run.jig
	    OR cell.operator <> run.operator OR cell.actuation <> run.actuation OR cell.simulated <> run.simulated
	    OR cell.purpose <> CASE WHEN EXISTS (SELECT 1 FROM reference_check WHERE reference_check.run = run.seq)
	                       THEN 'reference' ELSE run.purpose END
	    OR cell.lots <> coalesce((SELECT max(lot_change.seq) FROM lot_change
	                              WHERE lot_change.jig = jig.serial AND product = code
	                                AND lot_change.simulated = run.simulated AND after_run < run.seq), 0)`

	wrongCounts = judgedRuns + `, anew AS (
		SELECT cell, count(*) AS runs, count(*) FILTER (WHERE run.outcome = 'reseat') AS reseat,
		       count(*) FILTER (WHERE run.outcome = 'incomplete') AS incomplete, count(*) FILTER (WHERE run.outcome = 'aborted') AS aborted,
		       count(*) FILTER (WHERE turn = 1) AS units, count(*) FILTER (WHERE turn = 1 AND turned.outcome = 'pass' AND at_first) AS first_passed,
		       count(*) FILTER (WHERE turn = 1 AND finally = 'pass') AS last_passed, count(*) FILTER (WHERE turn > 1) AS retests,
		       count(*) FILTER (WHERE turn > 1 AND turned.outcome = 'pass' AND before = 'fail') AS cures,
		       count(*) FILTER (WHERE turn > 1 AND turned.outcome = 'fail' AND before = 'pass') AS relapses
		FROM run JOIN (SELECT run AS seq, cell FROM run_cell) AS place USING (seq) LEFT JOIN turned USING (seq)
		GROUP BY cell)
	SELECT 'the counts of cell ' || cell || ' are not those of its runs' FROM cell LEFT JOIN anew USING (cell)
	WHERE (cell.runs, cell.reseat, cell.incomplete, cell.aborted, cell.units, cell.first_passed, cell.last_passed,
	       cell.retests, cell.cures, cell.relapses) IS DISTINCT FROM
	      (coalesce(anew.runs, 0), coalesce(anew.reseat, 0), coalesce(anew.incomplete, 0), coalesce(anew.aborted, 0),
	       coalesce(anew.units, 0), coalesce(anew.first_passed, 0), coalesce(anew.last_passed, 0),
	       coalesce(anew.retests, 0), coalesce(anew.cures, 0), coalesce(anew.relapses, 0))`

	wrongFindings = `WITH found AS (
		SELECT run, what, location, key, lines, pins, min(place) AS place FROM run_finding
		GROUP BY run, what, location, key, lines, pins
	), anew AS (
		SELECT cell, fault, count(*) FILTER (WHERE turn = 1) AS units, count(*) FILTER (WHERE turn = 1 AND place = 0) AS worst, count(*) AS runs
		FROM found JOIN run_cell USING (run) JOIN fault USING (what, location, key, lines, pins) GROUP BY cell, fault
	)
	SELECT 'the findings of cell ' || coalesce(a.cell, b.cell) || ' are not those of its runs'
	FROM cell_finding AS a FULL JOIN anew AS b ON a.cell = b.cell AND a.fault = b.fault
	WHERE (a.units, a.worst, a.runs) IS DISTINCT FROM (b.units, b.worst, b.runs)`
)

// recountShifts compares the shift of each run's cell with the plan of its time.
func recountShifts(ctx context.Context, tx *sql.Tx) (found []string, err error) {
	plans := map[int64]floor.PlanInForce{0: {}}
	err = store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var seq, started, shift, number int64
		err := rows.Scan(&seq, &started, &shift, &number)
		plan, known := plans[number]
		if err == nil && !known {
			plan, err = floor.PlanOf(ctx, tx, number)
			plans[number] = plan
		}
		if err == nil && plan.At(started) != shift {
			found = append(found, fmt.Sprintf("run %d is counted in the wrong shift", seq))
		}
		return err
	}, `
		SELECT run.seq, started_us, shift,
		       coalesce((SELECT plan FROM shift WHERE after_run < run.seq ORDER BY shift DESC LIMIT 1), 0)
		FROM run JOIN run_cell ON run_cell.run = run.seq JOIN cell USING (cell)`)
	return found, err
}

// Recounted sums up the readings of cells while the runs go by in their order.
type Recounted struct {
	db   *store.DB
	open map[int64]*Histograms // by cell, while runs of it are still to come
	keys store.Interned
}

// Recount begins with the first run.
func Recount(db *store.DB) *Recounted {
	return &Recounted{db, map[int64]*Histograms{}, store.Interned{}}
}

// counts is the cell of a run, and the newest run in it.
type counts struct{ run, cell, turn, last, revision int64 }

// Add takes the next runs, and says what is wrong with the cells whose last run is among them. All of it is of one
// state of the store: the last run of a cell is asked for together with its sums, since testing may go on.
func (r *Recounted) Add(ctx context.Context, all []runs.Kept) (found []string, err error) {
	if len(all) == 0 {
		return nil, nil
	}
	err = r.db.View(ctx, func(tx *sql.Tx) error {
		of := map[int64]counts{}
		err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
			var c counts
			err := rows.Scan(&c.run, &c.cell, &c.turn, &c.last, &c.revision)
			of[c.run] = c
			return err
		}, `
			SELECT run, cell, turn, last_run, cell.revision FROM run_cell CROSS JOIN cell USING (cell) WHERE run BETWEEN ? AND ?`,
			all[0].Seq, all[len(all)-1].Seq)
		for _, run := range all {
			c, counted := of[run.Seq]
			switch {
			case err != nil:
				return err
			case !counted:
				found = append(found, fmt.Sprintf("run %d is in no cell", run.Seq))
				continue
			}
			var faults []string
			faults, err = r.add(store.Writer{Ctx: ctx, Tx: tx, Interned: r.keys}, c, run.Record)
			found = append(found, faults...)
		}
		return err
	})
	return found, err
}

func (r *Recounted) add(w store.Writer, c counts, rec *runs.Record) ([]string, error) {
	sums := r.open[c.cell]
	if sums == nil {
		sums = new(Histograms)
		r.open[c.cell] = sums
	}
	if c.turn == 1 {
		for _, k := range rec.Contacts() {
			key, err := runs.KeyNumber(w, c.revision, k)
			if err != nil {
				return nil, err
			}
			sums.Add(key, k.Closed)
		}
	}
	if c.run < c.last {
		return nil, nil
	}
	delete(r.open, c.cell)
	return sums.compare(w.Ctx, w.Tx, c.cell)
}

// compare says so when the cell has other sums. The order of the keys is the same.
func (s *Histograms) compare(ctx context.Context, tx *sql.Tx, cell int64) ([]string, error) {
	stored, err := store.Collect(ctx, tx, func(rows *sql.Rows) (b []byte, err error) { return b, rows.Scan(&b) },
		`SELECT packed FROM cell_reading WHERE cell = ?`, cell)
	if err != nil {
		return nil, err
	}
	if len(s.keys) == 0 && len(stored) == 0 || len(stored) == 1 && bytes.Equal(stored[0], s.Pack()) {
		return nil, nil
	}
	return []string{fmt.Sprintf("the readings of cell %d are not those of its runs", cell)}, nil
}
