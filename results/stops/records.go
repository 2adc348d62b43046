package stops

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Records are the stops of a store.
type Records struct{ db *store.DB }

// On gives those of a store.
func On(db *store.DB) *Records { return &Records{db} }

// Checks are how the records of stops are looked at.
func Checks() []store.Check { return []store.Check{store.Entries("stop", "stop_lifting")} }

// Line is a jig with a product on it. Simulated jigs and real ones do not stop each other.
type Line struct {
	Jig, Product string
	Simulated    bool
}

// Stop is a stop that was written down.
type Stop struct {
	Number int64
	Line
	Met
	AfterRun int64
	At       time.Time
	Lifted   *Lifting // nil: it holds
}

// Args are what a sentence about it is made of: rule, number, finding, key, lines, pins, units, of how many, unit. A place is a key
// or, where there is none, lines.
func (s Stop) Args() []string {
	lines := s.Fault.Lines
	if s.Fault.Key != "" {
		lines = ""
	}
	pins := strings.Fields(strings.Trim(fmt.Sprint(s.Pins), "[]"))
	return []string{
		string(s.Rule), fmt.Sprint(s.Number), s.Fault.Finding, s.Fault.Key, lines, strings.Join(pins, ", "), fmt.Sprint(s.Count),
		fmt.Sprint(s.Of), s.Unit,
	}
}

// Holding gives the stops that hold on a line: the line's own, and the one that holds for
// a unit alone, if any is named. What nobody has seen yet is written down.
func (s *Records) Holding(ctx context.Context, line Line, p *product.Product, unit string) ([]Stop, error) {
	l := look{line, p, unit}
	var held []Stop
	var fresh []Met
	what := fmt.Sprintf("look whether %s is stopped on jig %s", line.Product, line.Jig)
	err := s.db.Ask(ctx, what, func(tx *sql.Tx) (err error) {
		held, fresh, err = l.in(ctx, tx)
		return err
	})
	if err != nil || len(fresh) == 0 {
		return held, err
	}
	now := s.db.Now()
	_, err = s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) {
		_, fresh, err := l.in(ctx, tx) // somebody else may have written it meanwhile
		if err != nil {
			return nil, err
		}
		seq, err := newestRun(ctx, tx)
		return store.Each(fresh, func(m Met) store.Entry { return line.entry(m, seq, now) }), err
	})
	if err != nil {
		return nil, fmt.Errorf("write down that %s is stopped on jig %s: %w", line.Product, line.Jig, err)
	}
	err = s.db.Ask(ctx, what, func(tx *sql.Tx) (err error) {
		held, _, err = l.in(ctx, tx)
		return err
	})
	return held, err
}

func newestRun(ctx context.Context, tx *sql.Tx) (seq int64, err error) {
	return seq, tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM run`).Scan(&seq)
}

func (l Line) entry(m Met, newest int64, now time.Time) store.Entry {
	pins, _ := json.Marshal(append([]int{}, m.Pins...))
	e := store.Entry{Table: "stop"}
	e.Set("jig", l.Jig)
	e.Set("product", l.Product)
	e.Set("simulated", l.Simulated)
	e.Set("rule", string(m.Rule))
	e.Set("unit", m.Unit)
	e.Set("finding", m.Fault.Finding)
	e.Set("key", m.Fault.Key)
	e.Set("lines", m.Fault.Lines)
	e.Set("pins", string(pins))
	e.Set("units", m.Count)
	e.Set("of", m.Of)
	e.Set("run", m.Run)
	e.Set("after_run", newest)
	e.Set("boot_id", store.ThisStation().BootID)
	e.Set("mono_ns", monotonic())
	e.Set("at_us", now)
	return e
}

func monotonic() any {
	if up := store.Uptime(); up != nil {
		return *up
	}
	return nil
}

// look is one look at a line.
type look struct {
	Line
	product *product.Product
	unit    string
}

// in gives the stops that hold, and those that hold and are not written down.
func (l look) in(ctx context.Context, tx *sql.Tx) (held []Stop, fresh []Met, err error) {
	open, err := store.Collect(ctx, tx, scanStop, columns+`
		WHERE stop.jig = ? AND stop.product = ? AND stop.simulated = ? AND stop.unit IN ('', ?) AND `+holds+`
		ORDER BY stop.unit, stop.seq`, l.Jig, l.Product, l.Simulated, l.unit)
	if err != nil {
		return nil, nil, err
	}
	if !slices.ContainsFunc(open, func(s Stop) bool { return s.Unit == "" }) {
		runs, err := l.line(ctx, tx)
		if err != nil {
			return nil, nil, err
		}
		if met := OfLine(l.product.Stops, runs); met != nil {
			fresh = append(fresh, *met)
		}
	}
	if l.unit != "" && !slices.ContainsFunc(open, func(s Stop) bool { return s.Unit != "" }) {
		after, err := l.lifted(ctx, tx, l.unit)
		if err != nil {
			return nil, nil, err
		}
		seqs, err := l.ofUnit(ctx, tx, after)
		if err != nil {
			return nil, nil, err
		}
		runs, err := l.runs(ctx, tx, seqs)
		if err != nil {
			return nil, nil, err
		}
		if met := OfUnit(l.product.Stops, runs); met != nil {
			fresh = append(fresh, *met)
		}
	}
	return open, fresh, nil
}

// lifted is the run behind which the rules count: that of the last lifting on the line, or
// of the unit's own stop.
func (l look) lifted(ctx context.Context, tx *sql.Tx, unit string) (after int64, err error) {
	return after, tx.QueryRowContext(ctx, `
		SELECT max((SELECT after_run FROM stop_beginning),
			(SELECT coalesce(max(stop_lifting.after_run), 0) FROM stop_lifting JOIN stop ON stop.seq = stop_lifting.stop
			 WHERE stop.jig = ? AND stop.product = ? AND stop.simulated = ? AND stop.unit IN ('', ?)))`,
		l.Jig, l.Product, l.Simulated, unit).Scan(&after)
}

// line gives the newest runs of a line since it was let go on, as many as the rules look
// at: so many units that say something, and more in case they were met before.
func (l look) line(ctx context.Context, tx *sql.Tx) ([]Run, error) {
	after, err := l.lifted(ctx, tx, "")
	if err != nil {
		return nil, err
	}
	limits := l.product.Stops
	units := 8 + max(limits.SameFinding, limits.Of, limits.SameProbe, limits.Unseated)
	for depth := 2 * units; ; depth *= 2 {
		seqs, err := l.newest(ctx, tx, after, depth)
		if err != nil {
			return nil, err
		}
		runs, err := l.runs(ctx, tx, seqs)
		judged := 0
		for _, run := range runs {
			if run.First {
				judged++
			}
		}
		if err != nil || len(runs) < depth || judged >= units {
			return l.production(runs), err
		}
	}
}

// production leaves out the product's reference units.
func (l look) production(runs []Run) []Run {
	return slices.DeleteFunc(runs, func(r Run) bool {
		_, reference := l.product.Reference(r.Unit)
		return reference
	})
}

// judges is when a run says something of a unit.
const judges = `(%[1]s.verdict IN ('pass', 'fail') OR %[1]s.verdict = 'aborted' AND %[1]s.findings > 0)`

// counts is which runs count: of production, made on a jig here, over no reference unit.
const counts = `run.seq > ? AND run.simulated = ? AND run.purpose = '' AND run.start IS NOT NULL
	AND NOT EXISTS (SELECT 1 FROM reference_check WHERE reference_check.run = run.seq)`

// newest gives the newest runs of the line that count, at most so many. A jig has several
// numbers where its firmware or adapter changed, and a product one for each revision: each
// pair is asked by itself, since that is how the index has them.
func (l look) newest(ctx context.Context, tx *sql.Tx, after int64, most int) ([]int64, error) {
	type pair struct{ jig, revision int64 }
	pairs, err := store.Collect(ctx, tx, func(rows *sql.Rows) (p pair, err error) {
		return p, rows.Scan(&p.jig, &p.revision)
	}, `SELECT jig.jig, revision.revision FROM jig, revision WHERE jig.serial = ? AND revision.code = ?`, l.Jig, l.Product)
	if err != nil {
		return nil, err
	}
	var all []int64
	for _, p := range pairs {
		some, err := store.Collect(ctx, tx, store.ScanInt, `
			SELECT seq FROM run INDEXED BY run_line WHERE jig = ? AND revision = ? AND `+counts+` ORDER BY seq DESC LIMIT ?`,
			p.jig, p.revision, after, l.Simulated, most)
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
	}
	slices.Sort(all)
	return all[max(0, len(all)-most):], nil
}

// ofUnit gives the runs of the unit on the line that count.
func (l look) ofUnit(ctx context.Context, tx *sql.Tx, after int64) ([]int64, error) {
	return store.Collect(ctx, tx, store.ScanInt, `
		SELECT run.seq FROM run INDEXED BY run_serial CROSS JOIN jig USING (jig) CROSS JOIN revision USING (revision)
		WHERE run.serial = ? AND jig.serial = ? AND revision.code = ? AND `+counts,
		l.unit, l.Jig, l.Product, after, l.Simulated)
}

// runs gives runs as the rules see them, oldest first.
func (l look) runs(ctx context.Context, tx *sql.Tx, seqs []int64) ([]Run, error) {
	list, err := json.Marshal(seqs)
	if err != nil {
		return nil, err
	}
	found, err := store.Collect(ctx, tx, scanRun, `
		SELECT run.seq, run.serial, run.verdict, run.attempt,
			`+fmt.Sprintf(judges, "run")+` AND NOT EXISTS
				(SELECT 1 FROM run AS before JOIN revision AS of ON of.revision = before.revision
				 WHERE before.serial = run.serial AND before.seq < run.seq AND of.code = revision.code
				   AND before.simulated = run.simulated AND before.purpose = '' AND `+fmt.Sprintf(judges, "before")+`),
			run.verdict = 'reseat' AND coalesce(run.ended ->> '$[0]', ?1) = ?1,
			coalesce(run.ended ->> '$[0]', '') = ?2 AND run.verdict <> 'pass'
		FROM json_each(?3) AS chosen CROSS JOIN run ON run.seq = CAST(chosen.value AS bigint) CROSS JOIN revision USING (revision)
		ORDER BY run.seq`, string(sequence.SeatDoubtful), string(sequence.SamePad), string(list))
	if err != nil {
		return nil, err
	}
	at := map[int64]*Run{}
	for i := range found {
		at[found[i].Seq] = &found[i].Run
	}
	err = store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var run int64
		var f Fault
		var lines []string
		err := rows.Scan(&run, &f.Finding, &f.Key, store.JSON(&lines))
		f.Lines = strings.Join(lines, " ")
		at[run].Faults = append(at[run].Faults, f)
		return err
	}, `SELECT run, what, key, lines FROM run_finding WHERE run IN (SELECT CAST(value AS bigint) FROM json_each(?)) ORDER BY run, place`, string(list))
	if err == nil {
		err = pinsOf(ctx, tx, found)
	}
	return store.Each(found, func(r seen) Run { return r.Run }), err
}

// seen is a run, and whether it says something of probes.
type seen struct {
	Run
	doubtful bool
}

// pinsOf reads where contact was doubtful.
func pinsOf(ctx context.Context, tx *sql.Tx, list []seen) (err error) {
	for i, r := range list {
		if r.doubtful && err == nil {
			list[i].Pins, err = store.Collect(ctx, tx, func(rows *sql.Rows) (pin int, err error) { return pin, rows.Scan(&pin) }, `
				SELECT number FROM run_seat JOIN pin USING (pin) WHERE run_seat.run = ? AND good = 0 AND line <> '' ORDER BY place`, r.Seq)
		}
	}
	return err
}

func scanRun(rows *sql.Rows) (r seen, err error) {
	return r, rows.Scan(&r.Seq, &r.Unit, &r.Outcome, &r.Attempt, &r.First, &r.doubtful, &r.Alike)
}

// holds is when a stop was not lifted: neither itself nor, where it is that of a unit, the
// line's behind it.
const holds = `NOT EXISTS (SELECT 1 FROM stop_lifting WHERE stop_lifting.stop = stop.seq)
	AND (stop.unit = '' OR NOT EXISTS
		(SELECT 1 FROM stop_lifting JOIN stop AS line ON line.seq = stop_lifting.stop
		 WHERE line.jig = stop.jig AND line.product = stop.product AND line.simulated = stop.simulated AND line.unit = ''
		   AND stop_lifting.after_run >= stop.run))`

const columns = `SELECT stop.seq, stop.jig, stop.product, stop.simulated, stop.rule, stop.unit, stop.finding, stop.key,
	stop.lines, stop.pins, stop.units, stop.of, stop.run, stop.after_run, stop.at_us FROM stop `

func scanStop(rows *sql.Rows) (s Stop, err error) {
	return s, rows.Scan(&s.Number, &s.Jig, &s.Product, &s.Simulated, &s.Rule, &s.Unit, &s.Fault.Finding, &s.Fault.Key,
		&s.Fault.Lines, store.JSON(&s.Pins), &s.Count, &s.Of, &s.Met.Run, &s.AfterRun, store.Time(&s.At))
}

// ErrNoStop is returned for a number that no stop has.
var ErrNoStop = errors.New("there is no such stop")
