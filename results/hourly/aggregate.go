// Package hourly keeps the aggregates that answers about the line are read from.
//
// A cell sums up the runs of one hour that have everything in common that a
// quality engineer asks for. Each run is counted in the transaction that stores
// it, from the values as they are stored; see docs/records.md.
package hourly

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"padjig/results/floor"
	"padjig/results/runs"
	"padjig/results/store"
)

// faultTable interns what was found, and where.
var faultTable = store.Table{Name: "fault", Columns: []string{"what", "location", "key", "lines", "pins"}}

// hourKey is what the runs of a cell have in common.
type hourKey struct {
	hour                       int64 // UTC since 1970
	shift, revision, jig, lots int64 // numbers; 0 for no shift, no lots
	operator, actuation        string
	simulated                  bool
	purpose                    string // of the run, or "reference" for one over a reference unit
}

// Counter counts each run into its cell, in the transaction that stores it.
type Counter struct {
	aggregates map[hourKey]int64 // numbers; cells are never removed
	plans      map[int64]floor.PlanInForce
	open       map[int64]openHour // by the number of the jig; these do change, see known
	spans      int64              // the first hour of which the day before may be missing among the spans
}

// NewCounter gives a counter that knows nothing yet.
func NewCounter() *Counter {
	return &Counter{aggregates: map[hourKey]int64{}, plans: map[int64]floor.PlanInForce{}, open: map[int64]openHour{}}
}

// Forget lets go of what may have been in a transaction that is gone.
func (c *Counter) Forget() { *c = *NewCounter() }

// Count adds a run to its cell.
func (c *Counter) Count(w store.Writer, run runs.Counted) error { return counting{w, c}.count(run) }

// counting counts inside a transaction.
type counting struct {
	store.Writer
	*Counter
}

func (w counting) count(run runs.Counted) error {
	b, err := w.before(run)
	if err != nil {
		return err
	}
	key, err := w.hourKeyOf(run, b)
	if err != nil {
		return err
	}
	if err := w.daysBefore(key.hour); err != nil {
		return err
	}
	cell, err := w.aggregate(key)
	if err != nil {
		return err
	}
	judged, err := w.judgement(run, b)
	if err != nil {
		return err
	}
	open := openHour{cell: cell, sums: w.known(cell, run, b)}
	if open.runs, open.lastRun, err = w.addRun(cell, run, judged, 1); err != nil {
		return err
	}
	if judged.number == 1 {
		if open.sums, err = w.addReadings(cell, run, open.sums); err != nil {
			return err
		}
	}
	if open.sums != nil {
		w.open[run.JigNumber] = open
	}
	return w.addFindings(cell, run, judged, 1)
}

// mostSpans are made with one run: what is left comes with the next day, or when the store is opened.
const mostSpans = 6

// daysBefore makes the spans that are missing when the first run of a day comes: the day before, and others that went since.
func (w counting) daysBefore(hour int64) error {
	if hour < w.spans {
		return nil
	}
	zone, err := floor.ZoneIn(w.Ctx, w.Tx)
	if err != nil {
		return err
	}
	if _, err := makeSome(w.Ctx, w.Tx, hour, mostSpans); err != nil {
		return err
	}
	_, w.spans = Day.around(hour, zone)
	return nil
}

// before is what must be looked up before a run is counted, in one statement:
// each costs the verdict time.
type before struct {
	lots, plan                               int64  // in force, 0 for none
	lastJudgement, lastPassed, lastAggregate *int64 // of the judged run before of the unit
	runs, lastRun                            *int64 // of the cell whose readings are at hand
}

// before looks for earlier runs of the unit as the same product and for the same
// purpose, simulated ones apart.
func (w counting) before(run runs.Counted) (b before, err error) {
	err = w.Tx.QueryRowContext(w.Ctx, `
		SELECT coalesce((SELECT seq FROM lot_change
		                 WHERE jig = ?1 AND product = ?2 AND simulated = ?3 AND after_run < ?4
		                 ORDER BY seq DESC LIMIT 1), 0),
		       coalesce((SELECT plan FROM shift WHERE after_run < ?4 ORDER BY shift DESC LIMIT 1), 0),
		       turn, passed, last.cell, open.runs, open.last_run
		FROM (SELECT 1)
		LEFT JOIN (SELECT turn, verdict = 'pass' AS passed, run_cell.cell
		           FROM run JOIN run_cell ON run_cell.run = run.seq JOIN cell USING (cell)
		           JOIN revision ON revision.revision = run.revision
		           WHERE serial = ?5 AND seq < ?4 AND turn > 0 AND code = ?2 AND run.simulated = ?3 AND cell.purpose = ?6
		           ORDER BY seq DESC LIMIT 1) AS last
		LEFT JOIN cell AS open ON open.cell = ?7`,
		run.Jig.Serial, run.Product, run.Simulated, run.Seq, run.Serial, run.As, w.open[run.JigNumber].cell,
	).Scan(&b.lots, &b.plan, &b.lastJudgement, &b.lastPassed, &b.lastAggregate, &b.runs, &b.lastRun)
	return b, err
}

func (w counting) hourKeyOf(run runs.Counted, b before) (hourKey, error) {
	key := hourKey{
		hour: HourOf(run.Started), revision: run.RevisionNumber, jig: run.JigNumber, lots: b.lots,
		operator: run.Operator, actuation: run.Actuation, simulated: run.Simulated, purpose: run.As,
	}
	if b.plan == 0 {
		return key, nil
	}
	shifts, ok := w.plans[b.plan]
	if !ok {
		var err error
		if shifts, err = floor.PlanOf(w.Ctx, w.Tx, b.plan); err != nil {
			return key, err
		}
		w.plans[b.plan] = shifts
	}
	key.shift = shifts.At(run.Started)
	return key, nil
}

// openHour are the readings of the cell that a jig's last run went into, as this
// process left them.
type openHour struct {
	cell          int64
	runs, lastRun int64 // of the cell then
	sums          *Histograms
}

// known gives the readings of a cell where nobody changed it since they were at
// hand: a run that was added since shows in last_run, one taken out in runs.
func (w counting) known(cell int64, run runs.Counted, b before) *Histograms {
	open := w.open[run.JigNumber]
	if open.cell != cell || b.runs == nil || *b.runs != open.runs || *b.lastRun != open.lastRun {
		return nil
	}
	return open.sums
}

// HourOf is the hour of UTC since 1970 that a time in microseconds lies in.
func HourOf(micros int64) int64 {
	const hour = 3_600_000_000
	if q := micros / hour; micros%hour >= 0 {
		return q
	}
	return micros/hour - 1
}

// aggregate gives the number of a cell, and begins it when it is new. Cells are
// never removed, so a number holds like that of an interned row.
func (w counting) aggregate(key hourKey) (int64, error) {
	if number, ok := w.aggregates[key]; ok {
		return number, nil
	}
	values := []any{key.hour, key.shift, key.revision, key.jig, key.lots,
		key.operator, key.actuation, key.simulated, key.purpose}
	_, err := w.Tx.ExecContext(w.Ctx, `
		INSERT INTO cell (hour, shift, revision, jig, lots, operator, actuation, simulated, purpose)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`, values...)
	if err != nil {
		return 0, fmt.Errorf("begin cell: %w", err)
	}
	var number int64
	err = w.Tx.QueryRowContext(w.Ctx, `
		SELECT cell FROM cell
		WHERE hour = ? AND shift = ? AND revision = ? AND jig = ? AND lots = ?
		  AND operator = ? AND actuation = ? AND simulated = ? AND purpose = ?`, values...).Scan(&number)
	if err != nil {
		return 0, fmt.Errorf("find cell: %w", err)
	}
	w.aggregates[key] = number
	return number, nil
}

// judgement is what a run adds, by the rule of [Unit.Next].
type judgement struct {
	number  int64 // where it stands among the judged runs of its unit
	own     Counts
	finally int64 // for LastPassed of cell first
	first   int64 // where finally is not 0
}

func (w counting) judgement(run runs.Counted, b before) (t judgement, err error) {
	var unit Unit
	if b.lastJudgement != nil {
		unit = Unit{Judged: *b.lastJudgement, Passed: *b.lastPassed == 1}
	}
	_, t.number, t.own, t.finally = unit.Next(Run{Verdict: run.Verdict, As: run.As, Attempt: int64(run.Attempt)})
	switch {
	case t.finally == 0:
		return t, nil
	case unit.Judged == 1:
		t.first = *b.lastAggregate
		return t, nil
	}
	return t, w.Tx.QueryRowContext(w.Ctx, `
		SELECT run_cell.cell
		FROM run JOIN run_cell ON run_cell.run = run.seq JOIN cell USING (cell)
		JOIN revision ON revision.revision = run.revision
		WHERE serial = ? AND turn = 1 AND code = ? AND run.simulated = ? AND cell.purpose = ?`,
		run.Serial, run.Product, run.Simulated, run.As).Scan(&t.first)
}

// addRun counts a run in its cell, or with by -1 takes it out again.
// It gives how many runs the cell has then, and the last of them.
func (w counting) addRun(cell int64, run runs.Counted, t judgement, by int64) (runs, last int64, err error) {
	if err := w.place(cell, run.Seq, t.number, by); err != nil {
		return 0, 0, err
	}
	add := Counts{}.Plus(by, t.own)
	err = w.Tx.QueryRowContext(w.Ctx, `
		UPDATE cell SET
			first_run = CASE first_run WHEN 0 THEN ?2 ELSE min(first_run, ?2) END, last_run = max(last_run, ?2),
			runs = runs + ?3, reseat = reseat + ?4, incomplete = incomplete + ?5, aborted = aborted + ?6,
			units = units + ?7, first_passed = first_passed + ?8, last_passed = last_passed + ?9,
			retests = retests + ?10, cures = cures + ?11, relapses = relapses + ?12
		WHERE cell = ?1 RETURNING runs, last_run`,
		cell, run.Seq, add.Runs, add.Reseat, add.Incomplete, add.Aborted, add.Units, add.FirstPassed, add.LastPassed,
		add.Retests, add.Cures, add.Relapses,
	).Scan(&runs, &last)
	if err != nil || t.finally == 0 {
		return runs, last, err
	}
	_, err = w.Tx.ExecContext(w.Ctx, `UPDATE cell SET last_passed = last_passed + ? WHERE cell = ?`, by*t.finally, t.first)
	return runs, last, err
}

func (w counting) place(cell, seq, judgement, by int64) (err error) {
	if by > 0 {
		_, err = w.Tx.ExecContext(w.Ctx, `INSERT INTO run_cell (run, cell, turn) VALUES (?, ?, ?)`, seq, cell, judgement)
	} else {
		_, err = w.Tx.ExecContext(w.Ctx, `DELETE FROM run_cell WHERE run = ?`, seq)
	}
	return err
}

// addReadings adds the readings of a run to its cell; sums are those so far, nil
// to have them read. It gives the new ones.
func (w counting) addReadings(cell int64, run runs.Counted, sums *Histograms) (*Histograms, error) {
	if sums == nil {
		var err error
		if sums, err = w.histograms(cell); err != nil {
			return nil, err
		}
	}
	if len(run.Contacts()) == 0 {
		return sums, nil
	}
	for _, k := range run.Contacts() {
		key, err := runs.KeyNumber(w.Writer, run.RevisionNumber, k)
		if err != nil {
			return nil, err
		}
		sums.Add(key, k.Closed)
	}
	_, err := w.Tx.ExecContext(w.Ctx, `
		INSERT INTO cell_reading (cell, packed) VALUES (?, ?)
		ON CONFLICT (cell) DO UPDATE SET packed = excluded.packed`, cell, sums.Pack())
	return sums, err
}

func (w counting) histograms(cell int64) (*Histograms, error) {
	var packed []byte
	err := w.Tx.QueryRowContext(w.Ctx, `SELECT packed FROM cell_reading WHERE cell = ?`, cell).Scan(&packed)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return nil, err
	}
	sums, err := Unpack(packed)
	if err != nil {
		return nil, fmt.Errorf("sums of cell %d: %w", cell, err)
	}
	return sums, nil
}

// addFindings counts each finding once a run.
func (w counting) addFindings(cell int64, run runs.Counted, t judgement, by int64) error {
	seen := map[int64]bool{}
	for place, f := range run.Findings {
		fault, err := w.fault(f)
		if err != nil {
			return err
		}
		if seen[fault] {
			continue
		}
		seen[fault] = true
		_, err = w.Tx.ExecContext(w.Ctx, `
			INSERT INTO cell_finding (cell, fault, units, worst, runs) VALUES (?2, ?3, ?1 * ?4, ?1 * ?5, ?1)
			ON CONFLICT DO UPDATE
			SET units = units + excluded.units, worst = worst + excluded.worst, runs = runs + excluded.runs`,
			by, cell, fault, t.number == 1, t.number == 1 && place == 0)
		if err != nil {
			return fmt.Errorf("count finding: %w", err)
		}
	}
	if by > 0 || len(seen) == 0 {
		return nil
	}
	_, err := w.Tx.ExecContext(w.Ctx, `DELETE FROM cell_finding WHERE cell = ? AND runs = 0`, cell)
	return err
}

func (w counting) fault(f runs.FindingRow) (int64, error) {
	lines, err := json.Marshal(f.Lines)
	if err != nil {
		return 0, err
	}
	pins, err := json.Marshal(f.Pins)
	if err != nil {
		return 0, err
	}
	return w.Intern(faultTable, f.What, f.Location, f.Key, string(lines), string(pins))
}

// AggregatesFrom joins a cell with what a filter asks about.
const AggregatesFrom = `
	FROM cell JOIN revision USING (revision) JOIN jig USING (jig)
	LEFT JOIN lot_change ON lot_change.seq = cell.lots LEFT JOIN shift ON shift.shift = cell.shift `
