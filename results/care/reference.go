package care

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"padjig/results/hourly"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
)

// ReferenceCheck is a run over a reference unit and what was made of it.
type ReferenceCheck struct {
	Run  store.ID        // of the run that was judged, stored before
	Unit string          // serial number of the reference unit
	Bad  bool            // the unit has a known fault
	Why  []sequence.Said // why it did not show what it must; empty: it did
}

// Good reports whether the unit showed what it must.
func (c ReferenceCheck) Good() bool { return len(c.Why) == 0 }

// Sentences are what the record says of it, one for each reason.
func (c ReferenceCheck) Sentences() []string {
	said := make([]string, len(c.Why))
	for i, why := range c.Why {
		said[i] = sequence.Plain().Of(why)
	}
	return said
}

// SaveReferenceCheck records what was made of a stored run over a reference
// unit. Each run is judged once.
func (s *Records) SaveReferenceCheck(ctx context.Context, c ReferenceCheck) error {
	kind := map[bool]string{false: "good", true: "bad"}[c.Bad]
	return s.db.Save(ctx, fmt.Sprintf("save the check of reference unit %q", c.Unit), func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `
			INSERT INTO reference_check (seq, run, unit, kind, good, why)
			SELECT (SELECT coalesce(max(seq), 0) + 1 FROM reference_check), run.seq, ?, ?, ?, ?
			FROM run WHERE id = ?`,
			c.Unit, kind, c.Good(), strings.Join(c.Sentences(), "\n"), c.Run)
		if err != nil {
			return err
		}
		return hourly.SetAside(ctx, tx, c.Run)
	})
}

// checked leaves out good checks of before whose run pressed no key: they showed nothing.
const checked = `NOT (good = 1 AND actuation = 'electrical')`

// ReferenceState is how a reference unit stands on one jig.
type ReferenceState struct {
	Unit  string
	Last  *PastCheck // the last check on this jig, nil for none
	Since int        // production runs on the jig since then, those over reference units apart
	Runs  int        // how often the unit has been pressed through, on any jig
}

// ReferenceLeft is what is left of a reference unit's interval on a jig. Below zero, or none
// left of so many units: it is overdue.
type ReferenceLeft struct {
	Timed   bool // it is due at a time
	Time    time.Duration
	Counted bool // it is due after so many units
	Units   int
}

// Left is what is left of an interval, 0 for none of its kind. Of a unit that was never
// tested, or did not show what it must, nothing is: it is due now.
func (state ReferenceState) Left(every time.Duration, units int, now time.Time) (l ReferenceLeft) {
	if state.Last == nil || !state.Last.Good {
		return ReferenceLeft{Counted: true}
	}
	if every > 0 {
		l.Timed, l.Time = true, every-now.Sub(state.Last.Started)
	}
	if units > 0 {
		l.Counted, l.Units = true, units-state.Since
	}
	return l
}

// Over reports whether nothing is left.
func (l ReferenceLeft) Over() bool { return l.Timed && l.Time < 0 || l.Counted && l.Units <= 0 }

// Overdue says why a reference unit must be tested now, empty if it need not.
func (s ReferenceState) Overdue(refs *product.References, now time.Time) string {
	switch left := s.Left(refs.Every, refs.Units, now); {
	case s.Last == nil:
		return "was never tested"
	case !s.Last.Good:
		return "did not show what it must (" + firstLine(s.Last.Why) + ")"
	case left.Timed && left.Time < 0:
		return fmt.Sprintf("is due: %s, last %s ago", refs, now.Sub(s.Last.Started).Round(time.Minute))
	case left.Over():
		return fmt.Sprintf("is due: %s, %d since", refs, s.Since)
	}
	return ""
}

func firstLine(text string) string {
	line, _, _ := strings.Cut(text, "\n")
	return line
}

// PastCheck is a check that was made.
type PastCheck struct {
	Started time.Time
	Good    bool
	Why     string
}

// Reference gives how a reference unit stands on a jig. Checks on simulated
// jigs and on real ones do not count for each other.
func (s *Records) Reference(ctx context.Context, jig, unit string, simulated bool) (ReferenceState, error) {
	state := ReferenceState{Unit: unit}
	err := s.db.Ask(ctx, fmt.Sprintf("look up reference unit %q", unit), func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx,
			`SELECT count(*) FROM reference_check JOIN run ON run.seq = run WHERE unit = ? AND simulated = ?`,
			unit, simulated).Scan(&state.Runs)
		if err != nil {
			return err
		}
		return state.last(ctx, tx, jig, simulated)
	})
	return state, err
}

func (state *ReferenceState) last(ctx context.Context, tx *sql.Tx, jig string, simulated bool) error {
	var run int64
	past := &PastCheck{}
	found, err := store.RowOf(ctx, tx, `
		SELECT run.seq, started_us, good, why
		FROM reference_check JOIN run ON run.seq = run JOIN jig USING (jig)
		WHERE unit = ? AND jig.serial = ? AND simulated = ? AND `+checked+`
		ORDER BY run.seq DESC LIMIT 1`,
		[]any{state.Unit, jig, simulated}, &run, store.Time(&past.Started), &past.Good, &past.Why)
	if err != nil || !found {
		return err
	}
	state.Last = past
	return tx.QueryRowContext(ctx,
		`SELECT count(*) FROM run
		 WHERE jig IN (SELECT jig FROM jig WHERE serial = ?) AND seq > ? AND purpose = ''
		   AND NOT EXISTS (SELECT 1 FROM reference_check WHERE reference_check.run = run.seq)`,
		jig, run).Scan(&state.Since)
}

// Baseline gives the keys of a reference unit's first good check on a jig: what
// it should read from then on. It is nil before there was one.
func (s *Records) Baseline(ctx context.Context, jig, unit string, simulated bool) ([]sequence.KeyResult, error) {
	id, err := store.First(ctx, s.db, fmt.Sprintf("look up the first check of reference unit %q", unit),
		func(rows *sql.Rows) (id store.ID, err error) { return id, rows.Scan(&id) }, `
		SELECT run.id
		FROM reference_check JOIN run ON run.seq = run JOIN jig USING (jig)
		WHERE unit = ? AND jig.serial = ? AND simulated = ? AND good = 1 AND `+checked+`
		ORDER BY run.seq LIMIT 1`, unit, jig, simulated)
	if err != nil || id == nil {
		return nil, err
	}
	first, err := s.runs.Run(ctx, *id)
	return first.Keys, err
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
func (s *Records) LastChecks(ctx context.Context, to time.Time, simulated bool) ([]LastCheck, error) {
	return store.List(ctx, s.db, "look up reference units", func(rows *sql.Rows) (c LastCheck, err error) {
		return c, rows.Scan(&c.Jig, &c.Unit, &c.Kind, store.Time(&c.At), &c.Good, &c.Why)
	}, `SELECT jig.serial, unit, kind, started_us, good, why
	    FROM reference_check CROSS JOIN run ON run.seq = run JOIN jig USING (jig)
	    WHERE run IN (SELECT max(run.seq) FROM reference_check CROSS JOIN run ON run.seq = run JOIN jig USING (jig)
	                  WHERE simulated = ? AND started_us <= ? AND `+checked+` GROUP BY jig.serial, unit)
	    ORDER BY jig.serial, unit`,
		simulated, to.UnixMicro())
}

// NewestCheck gives the run of the newest check of a reference unit, on a real jig before
// one on a simulated one; nil for none.
func (s *Records) NewestCheck(ctx context.Context, unit string) (*runs.Stored, error) {
	id, err := store.First(ctx, s.db, fmt.Sprintf("look up the checks of reference unit %q", unit),
		func(rows *sql.Rows) (id store.ID, err error) { return id, rows.Scan(&id) }, `
		SELECT run.id FROM reference_check JOIN run ON run.seq = run
		WHERE unit = ? AND `+checked+` ORDER BY simulated, run.seq DESC LIMIT 1`, unit)
	if err != nil || id == nil {
		return nil, err
	}
	run, err := s.runs.Run(ctx, *id)
	return &run, err
}
