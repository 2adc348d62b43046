package lines

import (
	"context"
	"database/sql"
	"encoding/json"
	"time"

	"padjig/results/hourly"
	"padjig/results/store"
	"padjig/sequence"
)

// Chosen gives those of some runs that a filter chooses.
func (s *Records) Chosen(ctx context.Context, f Filter, runs []int64) ([]int64, error) {
	list, err := json.Marshal(runs)
	if err != nil {
		return nil, err
	}
	where, args := f.where()
	return listed(ctx, s, "choose runs", f, store.ScanInt, `
		SELECT run FROM run_cell WHERE run IN (SELECT CAST(value AS bigint) FROM json_each(?))
		  AND cell IN (SELECT cell `+hourly.AggregatesFrom+` WHERE `+where+`)`, append([]any{string(list)}, args...)...)
}

// Override is that a unit was tested although padjig would not.
type Override struct {
	At                            time.Time
	Serial, Jig, What, By, Reason string
}

// Overrides gives what was decided on the jigs and in the times that a filter chooses;
// whether for a real unit or a simulated one is not written down with it, and is that of
// the unit's newest run. What was decided of a jig, and of no unit, is not among them.
func (s *Records) Overrides(ctx context.Context, f Filter) ([]Override, error) {
	where, args := f.span("override", "at_us", "override.jig")
	return listed(ctx, s, "look up overrides", f, func(rows *sql.Rows) (o Override, err error) {
		return o, rows.Scan(store.Time(&o.At), &o.Serial, &o.Jig, &o.What, &o.By, &o.Reason)
	}, `SELECT at_us, serial, jig, what, by, reason FROM override
	    WHERE serial <> '' AND coalesce((SELECT simulated FROM run WHERE run.serial = override.serial ORDER BY seq DESC LIMIT 1), 0) = ? AND `+
		where+` ORDER BY after_run, seq`, append([]any{f.Simulated}, args...)...)
}

// Ended is a run that did not come to its end.
type Ended struct {
	At                    time.Time
	Serial, Jig, Operator string
	Seq                   int64  // of the run; 0: it has none
	Fault                 string // the worst finding and its place
}

// AbortedAfterFinding gives the production runs that were aborted when something had been
// found.
func (s *Records) AbortedAfterFinding(ctx context.Context, f Filter) ([]Ended, error) {
	return ofRuns(ctx, s, f, "look up aborted runs", scanEnded, `
		SELECT started_us, run.serial, jig.serial, run.operator, run.seq, coalesce(what || ': ' || location, '')
		FROM run JOIN revision USING (revision) JOIN jig USING (jig)
		LEFT JOIN run_finding ON run_finding.run = run.seq AND run_finding.place = 0
		WHERE verdict = 'aborted' AND findings > 0 AND `, ` ORDER BY run.seq`)
}

// ofRuns gives rows of the runs that a filter chooses, within the numbers that the sums say.
func ofRuns[T any](ctx context.Context, s *Records, f Filter, what string, scan func(*sql.Rows) (T, error), before, behind string,
	first ...any) (list []T, err error) {
	err = s.ask(ctx, what, f, nil, func(tx *sql.Tx) error {
		span, err := yieldRows(ctx, tx, f, nil)
		if err != nil || len(span) == 0 {
			return err
		}
		where, args := f.ofLine("run")
		args = append(append(first, args...), span[0].FirstRun, span[0].LastRun)
		list, err = store.Collect(ctx, tx, scan, before+where+` AND run.seq BETWEEN ? AND ?`+behind, args...)
		return err
	})
	return list, err
}

// Unfinished gives the production runs that were begun and never finished.
func (s *Records) Unfinished(ctx context.Context, f Filter) ([]Ended, error) {
	where, args := f.ofLine("run_start")
	return listed(ctx, s, "look up runs that were not finished", f, scanEnded, `
		SELECT started_us, run_start.serial, jig.serial, run_start.operator, 0, ''
		FROM run_unfinished CROSS JOIN run_start ON run_start.seq = run_unfinished.start
		JOIN revision USING (revision) JOIN jig USING (jig)
		WHERE NOT EXISTS (SELECT 1 FROM run WHERE run.start = run_start.seq) AND `+where+` ORDER BY run_start.after_run, run_start.seq`, args...)
}

func scanEnded(rows *sql.Rows) (e Ended, err error) {
	return e, rows.Scan(store.Time(&e.At), &e.Serial, &e.Jig, &e.Operator, &e.Seq, &e.Fault)
}

// Probe is a probe of a jig that had no sure contact, so that units were reseated.
type Probe struct {
	Jig     string
	Pin     int // of the tail, and the jig's channel
	Line    string
	Reseats int // runs
	Units   int
}

// Reseats gives them, the worst first.
func (s *Records) Reseats(ctx context.Context, f Filter) ([]Probe, error) {
	return ofRuns(ctx, s, f, "count reseats", func(rows *sql.Rows) (p Probe, err error) {
		return p, rows.Scan(&p.Jig, &p.Pin, &p.Line, &p.Reseats, &p.Units)
	}, `
		SELECT jig.serial, pin.number, pin.line, count(*), count(DISTINCT run.serial)
		FROM run JOIN revision USING (revision) JOIN jig USING (jig)
		CROSS JOIN run_seat ON run_seat.run = run.seq JOIN pin USING (pin)
		WHERE verdict = 'reseat' AND good = 0 AND pin.line <> '' AND coalesce(ended ->> '$[0]', ?) = ? AND `,
		` GROUP BY jig.serial, pin.number, pin.line ORDER BY count(*) DESC, jig.serial, pin.number`,
		sequence.SeatDoubtful, sequence.SeatDoubtful)
}

// ofLine is a condition on a table of production runs or their starts: all of a filter but
// what only sums know, the lots and the shift.
func (f Filter) ofLine(table string) (condition string, args []any) {
	condition, args = f.span(table, "started_us", "jig.serial")
	condition += " AND " + table + ".purpose = '' AND " + table + ".simulated = ?"
	args = append(args, f.Simulated)
	if f.Product != "" {
		condition, args = condition+" AND revision.code = ?", append(args, f.Product)
	}
	if f.Actuation != "" {
		condition, args = condition+" AND "+table+".actuation = ?", append(args, string(f.Actuation))
	}
	for column, list := range map[string][]string{"revision.label": f.Revisions, table + ".operator": f.Operators} {
		condition, args = among(condition, args, column, list)
	}
	return condition, args
}

// span is a condition on a time, a station and a jig.
func (f Filter) span(table, column, jig string) (condition string, args []any) {
	at := table + "." + column
	of, args := f.ofStations(table)
	condition = "1 = 1" + of
	if !f.From.IsZero() {
		condition, args = condition+" AND "+at+" >= ?", append(args, f.From.UnixMicro())
	}
	if !f.To.IsZero() {
		condition, args = condition+" AND "+at+" < ?", append(args, f.To.UnixMicro())
	}
	return among(condition, args, jig, f.Jigs)
}

func among(condition string, args []any, column string, list []string) (string, []any) {
	if len(list) == 0 {
		return condition, args
	}
	for _, v := range list {
		args = append(args, v)
	}
	return condition + " AND " + column + " IN (" + store.Placeholders(len(list)) + ")", args
}
