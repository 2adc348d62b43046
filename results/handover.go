package results

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"
)

// Handover is an incoming lead's signature under a shift.
type Handover struct {
	Shift     string
	Day       string // on which the shift began, 2026-03-02
	Simulated bool
	By, Note  string
	At        time.Time
}

// SaveHandover records that somebody took a shift over.
func (s *Store) SaveHandover(ctx context.Context, h Handover) error {
	err := s.update(context.WithoutCancel(ctx), func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `
			INSERT INTO handover (seq, shift, day, simulated, after_run, by, note, at_us)
			SELECT (SELECT coalesce(max(seq), 0) + 1 FROM handover), ?, ?, ?,
			       (SELECT coalesce(max(seq), 0) FROM run), ?, ?, ?`,
			h.Shift, h.Day, h.Simulated, h.By, h.Note, s.seams.now().UnixMicro())
		return err
	})
	if err != nil {
		return fmt.Errorf("save the handover of shift %s of %s in %s: %w", h.Shift, h.Day, s.path, remedy(err))
	}
	return nil
}

// Handovers gives the signatures under a shift, oldest first.
func (s *Store) Handovers(ctx context.Context, shift, day string, simulated bool) ([]Handover, error) {
	var list []Handover
	err := s.view(ctx, func(tx *sql.Tx) (err error) {
		list, err = collect(ctx, tx, func(rows *sql.Rows) (h Handover, err error) {
			var at int64
			err = rows.Scan(&h.Shift, &h.Day, &h.Simulated, &h.By, &h.Note, &at)
			h.At = time.UnixMicro(at).UTC()
			return h, err
		}, `SELECT shift, day, simulated, by, note, at_us FROM handover
		    WHERE shift = ? AND day = ? AND simulated = ? ORDER BY seq`, shift, day, simulated)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("look up handovers in %s: %w", s.path, err)
	}
	return list, nil
}

// When gives a shift's time on a day; false for a shift that the plan does not have.
func (p ShiftPlan) When(name, day string) (from, to time.Time, ok bool, err error) {
	zone, err := zoneOf(p.Zone)
	if err != nil {
		return from, to, false, err
	}
	at, err := time.ParseInLocation("2006-01-02", day, zone)
	if err != nil {
		return from, to, false, fmt.Errorf("%q is no day such as 2026-03-02", day)
	}
	clock := func(days, minutes int) time.Time { // a date, not a duration: days with a change of clocks
		return time.Date(at.Year(), at.Month(), at.Day()+days, 0, minutes, 0, 0, zone).UTC()
	}
	for _, s := range p.Shifts {
		if s.Name != name {
			continue
		}
		next := 0
		if s.Ends <= s.Begins {
			next = 1
		}
		return clock(0, s.Begins), clock(next, s.Ends), true, nil
	}
	return from, to, false, nil
}

// Names lists the shifts of the plan.
func (p ShiftPlan) Names() string {
	return strings.Join(each(p.Shifts, func(s Shift) string { return s.Name }), ", ")
}

// OpenUnit is a unit that failed and did not pass since.
type OpenUnit struct {
	Serial, Jig string
	Seq         int64 // of its first judged run
	Failed      time.Time
	Cause       string // worst finding of its last judged run
	Runs        int    // judged runs so far
}

// OpenUnits gives the units judged first in the runs that a filter chooses
// whose last judged run, wherever it was made, is a fail.
func (s *Store) OpenUnits(ctx context.Context, f Filter) ([]OpenUnit, error) {
	var list []OpenUnit
	err := s.view(ctx, func(tx *sql.Tx) error {
		c, err := choose(ctx, tx, f, 0)
		if err != nil {
			return err
		}
		list, err = collect(ctx, tx, func(rows *sql.Rows) (u OpenUnit, err error) {
			var at int64
			err = rows.Scan(&u.Serial, &u.Jig, &u.Seq, &at, &u.Runs, &u.Cause)
			u.Failed = time.UnixMicro(at).UTC()
			return u, err
		}, `
			WITH last AS (
				SELECT first.seq AS first, first.serial, first.jig, first.started_us,
				       (SELECT run.seq FROM run JOIN run_cell AS rc ON rc.run = run.seq JOIN cell USING (cell)
				        WHERE run.serial = first.serial AND rc.turn > 0 AND cell.purpose = '' AND run.simulated = first.simulated
				          AND run.revision IN (SELECT b.revision FROM revision AS a JOIN revision AS b USING (code) WHERE a.revision = first.revision)
				        ORDER BY run.seq DESC LIMIT 1) AS last
				FROM run_cell CROSS JOIN run AS first ON first.seq = run_cell.run
				WHERE first.outcome = 'fail' AND `+c.condition+`)
			SELECT last.serial, jig.serial, first, last.started_us, run_cell.turn, coalesce(what || ': ' || location, '')
			FROM last JOIN run ON run.seq = last.last JOIN run_cell ON run_cell.run = run.seq JOIN jig ON jig.jig = last.jig
			LEFT JOIN run_finding ON run_finding.run = run.seq AND run_finding.place = 0
			WHERE run.outcome = 'fail' ORDER BY first`, c.args...)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("look up open units in %s: %w", s.path, err)
	}
	return list, nil
}

// LastCheck is the newest check of a reference unit on a jig.
type LastCheck struct {
	Jig, Unit, Kind string
	At              time.Time
	Good            bool
	Why             string
}

// LastChecks gives the newest check of every reference unit on every jig that is
// not later than a time.
func (s *Store) LastChecks(ctx context.Context, to time.Time, simulated bool) ([]LastCheck, error) {
	var list []LastCheck
	err := s.view(ctx, func(tx *sql.Tx) (err error) {
		list, err = collect(ctx, tx, func(rows *sql.Rows) (c LastCheck, err error) {
			var at, seq int64
			err = rows.Scan(&seq, &c.Jig, &c.Unit, &c.Kind, &at, &c.Good, &c.Why)
			c.At = time.UnixMicro(at).UTC()
			return c, err
		}, `SELECT max(reference_check.seq), jig.serial, unit, kind, started_us, good, why
		    FROM reference_check CROSS JOIN run ON run.seq = run JOIN jig USING (jig)
		    WHERE simulated = ? AND started_us <= ? AND `+checked+` GROUP BY jig.serial, unit ORDER BY jig.serial, unit`,
			simulated, to.UnixMicro())
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("look up reference units in %s: %w", s.path, err)
	}
	return list, nil
}
