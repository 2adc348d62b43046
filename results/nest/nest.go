// Package nest keeps how often the nest of a jig was opened, beside the runs that were
// made on it: between two units there must have been an opening, or every seat must
// have been seen empty. Who holds a unit against it asks in the transaction that claims
// the unit, so that no other program can come between.
package nest

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"padjig/fixture"
	"padjig/results/store"
)

// Count is how often a nest was opened, as the jig counts it itself, since it drew the
// number of its boot.
type Count struct {
	Boot     uint16
	Openings uint32
}

// Opened reports whether the nest was opened between the moment of c and that of a
// later count. A count that begins anew has to get beyond 0, since nobody knows what
// was done while the jig had no supply.
func (c Count) Opened(later Count) bool {
	if c.Boot != later.Boot {
		return later.Openings > 0
	}
	return later.Openings > c.Openings
}

// Proof is how a jig can show that a unit was taken out.
type Proof string

// The proofs.
const (
	Unasked Proof = ""         // nobody asks: what was not made on a jig here
	Counted Proof = "openings" // the jig counts them
	Seen    Proof = "loops"    // every seat loop was seen open
	None    Proof = "none"     // a jig with neither
)

// ProofOf is how a jig can show it.
func ProofOf(caps fixture.Capabilities) Proof {
	switch {
	case caps.Interlock:
		return Counted
	case caps.Loop:
		return Seen
	}
	return None
}

// CountOf is a count as a jig says it.
func CountOf(n fixture.Nest) Count { return Count{Boot: n.Boot, Openings: n.Openings} }

// Claim is the nest of a run that is about to move.
type Claim struct {
	By     Proof
	Now    Count // by openings
	Anew   bool  // the same unit has to be put in anew too
	Waived bool  // somebody who may has agreed that it cannot be shown, by None
}

// Last is the newest start on a jig, whatever it was for, and what is known of the nest
// since its motion was over.
type Last struct {
	Start   int64 // 0: there is none
	Serial  string
	Count   *Count // when it was over, or when it began if that is not known; nil: neither is
	Emptied bool   // every seat was seen empty since
}

// OccupiedError refuses a unit because nothing shows that the one before was taken out.
type OccupiedError struct {
	By     Proof
	Serial string // of the unit that is still in the jig
}

func (e *OccupiedError) Error() string {
	return fmt.Sprintf("unit %s is still in the jig, as far as the jig can tell (%s)", e.Serial, e.By)
}

// Refuses gives what speaks against a unit, nil if nothing does. Of a start whose
// openings nobody counted, as before there was a count, it cannot say anything.
func (c Claim) Refuses(last Last, serial string) error {
	switch {
	case c.By == Unasked, last.Start == 0, last.Serial == serial && !c.Anew:
		return nil
	case c.By == Counted && (last.Count == nil || last.Count.Opened(c.Now)):
		return nil
	case c.By == Seen && last.Emptied:
		return nil
	case c.By == None && c.Waived:
		return nil
	}
	return &OccupiedError{c.By, last.Serial}
}

// Of gives the newest start on a jig; simulated jigs are other ones, also by the same name.
func Of(ctx context.Context, tx *sql.Tx, jig string, simulated bool) (last Last, err error) {
	err = tx.QueryRowContext(ctx, `
		SELECT seq, serial FROM run_start WHERE seq = (
		  SELECT max((SELECT max(seq) FROM run_start WHERE run_start.jig = jig.jig AND simulated = ?))
		  FROM jig WHERE serial = ?)`, simulated, jig).
		Scan(&last.Start, &last.Serial)
	if errors.Is(err, sql.ErrNoRows) {
		return Last{}, nil
	}
	if err != nil {
		return Last{}, err
	}
	var c Count
	err = tx.QueryRowContext(ctx, `
		SELECT boot, openings FROM nest_count WHERE start = ? ORDER BY seq DESC LIMIT 1`, last.Start).
		Scan(&c.Boot, &c.Openings)
	if err == nil {
		last.Count = &c
	} else if !errors.Is(err, sql.ErrNoRows) {
		return Last{}, err
	}
	err = tx.QueryRowContext(ctx, `
		SELECT EXISTS (SELECT 1 FROM nest_empty WHERE jig = ? AND simulated = ? AND after_start >= ?)`,
		jig, simulated, last.Start).Scan(&last.Emptied)
	return last, err
}

// Moments of a run at which the openings of its nest are kept.
const (
	AtStart = "start" // before anything moved
	AtEnd   = "end"   // when everything was let go of
)

// Keep keeps a count beside a start.
func Keep(ctx context.Context, tx *sql.Tx, start int64, moment string, c Count) error {
	e := store.Entry{Table: "nest_count"}
	e.Set("start", start)
	e.Set("moment", moment)
	e.Set("boot", int64(c.Boot))
	e.Set("openings", int64(c.Openings))
	_, err := e.Insert(ctx, tx)
	return err
}

// Records are what is kept of nests.
type Records struct{ db *store.DB }

// On makes the records over a database.
func On(db *store.DB) *Records { return &Records{db} }

// Of is the newest start on a jig, and what is known of the nest since.
func (r *Records) Of(ctx context.Context, jig string, simulated bool) (last Last, err error) {
	err = r.db.View(ctx, func(tx *sql.Tx) (err error) {
		last, err = Of(ctx, tx, jig, simulated)
		return err
	})
	if err != nil {
		return Last{}, fmt.Errorf("look up the last unit on jig %s in %s: %w", jig, r.db.Path(), err)
	}
	return last, nil
}

// SawEmpty keeps that every seat of a jig's nest was seen empty. Whoever saw it has the
// jig, so that no run on it is under way.
func (r *Records) SawEmpty(ctx context.Context, jig string, simulated bool) error {
	_, err := r.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) {
		var after int64
		if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM run_start`).Scan(&after); err != nil {
			return nil, err
		}
		e := store.Entry{Table: "nest_empty"}
		e.Set("jig", jig)
		e.Set("simulated", simulated)
		e.Set("after_start", after)
		e.Set("at_us", r.db.Now())
		return []store.Entry{e}, nil
	})
	if err != nil {
		return fmt.Errorf("keep that jig %s was seen empty in %s: %w", jig, r.db.Path(), err)
	}
	return nil
}

// Checks are how these records are looked at.
func Checks() []store.Check { return []store.Check{store.Entries("nest_count", "nest_empty")} }
