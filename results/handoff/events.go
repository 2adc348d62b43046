// Package handoff keeps what is handed on to other systems: the outbox, to which every run
// adds an event in the transaction that stores it, and how far each receiver got.
//
// Events stand in one order, and every receiver gets them in that order, so that what is
// told of a unit is told in the order it was stored. What a receiver has is one number: all
// events up to it. A crash between sending an event and keeping that number has the event
// sent again, under the same id. Who sends, and how, is no matter of the records.
package handoff

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"padjig/results/fails"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
)

// Records are the outbox of a store, and how far its receivers got.
type Records struct {
	db      *store.DB
	runs    *runs.Records
	fails   *fails.Records
	returns *returns.Records
}

// On gives those of a store.
func On(db *store.DB, runs *runs.Records, fails *fails.Records, returns *returns.Records) *Records {
	return &Records{db, runs, fails, returns}
}

// Kind says what an event tells of, by the table it stands in.
type Kind string

// The kinds.
const (
	Run         Kind = "run"         // a run was stored
	Override    Kind = "override"    // a person decided that a unit goes on nonetheless
	Placement   Kind = "placement"   // a unit that failed was put into a fail place, or somebody went on without
	Rework      Kind = "rework"      // something was done to a unit
	Disposition Kind = "disposition" // a returns case was closed, otherwise closed, or opened again
)

// Event is a row of the outbox.
type Event struct {
	Number      int64 // 1, 2, 3 ... in the order in which they are handed on
	ID          store.ID
	Kind        Kind
	Simulated   bool // of a simulated jig
	Engineering bool // of a run that tries a definition
	ref         int64
}

// Practice reports whether the event says nothing of a real unit for production.
func (e Event) Practice() bool { return e.Simulated || e.Engineering }

// Told is an event with what stands in the records of it: one of the last five is there.
type Told struct {
	Event
	At            time.Time // it was stored
	Unit, Product string    // serial number and code; no product of a unit that was never tested

	Run         *runs.Stored
	Placement   *fails.Placement
	Rework      *returns.Rework
	Override    *Overridden
	Disposition *Closed
}

// Overridden is a decision that a unit goes on although something stood in the way.
type Overridden struct{ What, Jig, By, Reason string }

// Closed is how a returns case ended.
type Closed struct {
	Case                       int64
	Code, Disposal, Reason, By string
}

// unitOf gives product and simulation of a unit by its newest run at a time, else by that of a
// jig; what came later does not change what an event says.
const unitOf = `(SELECT run.simulated FROM run WHERE run.serial = %[1]s AND run.seq <= %[2]s ORDER BY run.seq DESC LIMIT 1)`

// events are the rows of the outbox, with what says whether they are practice.
var events = `
	SELECT outbox.seq, outbox.id, outbox.kind, outbox.ref,
	       coalesce(made.simulated, put.simulated,
	         ` + fmt.Sprintf(unitOf, "override.serial", "override.after_run") + `,
	         (SELECT run.simulated FROM run JOIN jig USING (jig) WHERE jig.serial = override.jig AND run.seq <= override.after_run
	          ORDER BY run.seq DESC LIMIT 1),
	         ` + fmt.Sprintf(unitOf, "rework.serial", "rework.after_run") + `,
	         ` + fmt.Sprintf(unitOf, "return_case.serial", "return_case.after_run") + `, 0),
	       coalesce(made.purpose = '` + string(sequence.Engineering) + `', 0)
	FROM outbox
	LEFT JOIN run AS made ON outbox.kind = 'run' AND made.seq = outbox.ref
	LEFT JOIN placement ON outbox.kind = 'placement' AND placement.seq = outbox.ref
	LEFT JOIN run AS put ON put.seq = placement.run
	LEFT JOIN override ON outbox.kind = 'override' AND override.seq = outbox.ref
	LEFT JOIN rework ON outbox.kind = 'rework' AND rework.seq = outbox.ref
	LEFT JOIN return_disposition ON outbox.kind = 'disposition' AND return_disposition.seq = outbox.ref
	LEFT JOIN return_case ON return_case.seq = return_disposition.return_case `

func scanEvent(rows *sql.Rows) (e Event, err error) {
	return e, rows.Scan(&e.Number, &e.ID, &e.Kind, &e.ref, &e.Simulated, &e.Engineering)
}

// Next gives the next n events after a number.
func (s *Records) Next(ctx context.Context, after int64, n int) ([]Event, error) {
	return store.List(ctx, s.db, "look up what is to be handed on", scanEvent,
		events+`WHERE outbox.seq > ? ORDER BY outbox.seq LIMIT ?`, after, n)
}

// Tell gives what the records have of an event: the same whenever it is asked.
func (s *Records) Tell(ctx context.Context, e Event) (Told, error) {
	t := Told{Event: e}
	if err := s.tell(ctx, &t); err != nil {
		return t, fmt.Errorf("look up event %d, %s %d: %w", e.Number, e.Kind, e.ref, err)
	}
	return t, nil
}

var errGone = errors.New("what it tells of is not in the records")

func (s *Records) tell(ctx context.Context, t *Told) (err error) {
	switch t.Kind {
	case Run:
		err = s.tellRun(ctx, t)
	case Placement:
		if t.Placement, err = s.fails.Numbered(ctx, t.ref); err == nil && t.Placement != nil {
			t.At, t.Unit = t.Placement.At, t.Placement.Serial
		}
	case Rework:
		if t.Rework, err = s.returns.ReworkNumbered(ctx, t.ref); err == nil && t.Rework != nil {
			t.Unit = t.Rework.Serial
		}
	}
	if err != nil || t.Kind == Run {
		return err
	}
	return s.db.Ask(ctx, "look up an event", func(tx *sql.Tx) error { return t.rest(ctx, tx) })
}

func (s *Records) tellRun(ctx context.Context, t *Told) error {
	list, err := s.runs.Numbered(ctx, []int64{t.ref})
	switch {
	case err != nil:
		return err
	case len(list) == 0:
		return errGone
	}
	t.Run = &list[0]
	t.At, t.Unit, t.Product = t.Run.Saved.UTC(), t.Run.Serial, t.Run.Product
	return nil
}

// rest looks up what no other room gives.
func (t *Told) rest(ctx context.Context, tx *sql.Tx) error {
	var after int64 // the newest run then
	query, into := "", []any{}
	switch t.Kind {
	case Placement:
		query, into = `SELECT after_run FROM placement WHERE seq = ?`, []any{&after}
	case Rework:
		query, into = `SELECT after_run, at_us FROM rework WHERE seq = ?`, []any{&after, store.Time(&t.At)}
	case Override:
		t.Override = &Overridden{}
		query = `SELECT serial, what, jig, by, reason, after_run, at_us FROM override WHERE seq = ?`
		into = []any{&t.Unit, &t.Override.What, &t.Override.Jig, &t.Override.By, &t.Override.Reason, &after, store.Time(&t.At)}
	case Disposition:
		t.Disposition = &Closed{}
		query = `SELECT serial, return_case.seq, disposition, coalesce(disposal, ''), reason, return_disposition.by, return_case.after_run, return_disposition.at_us
			FROM return_disposition JOIN return_case ON return_case.seq = return_case
			LEFT JOIN return_disposal ON return_disposal.disposition = return_disposition.seq WHERE return_disposition.seq = ?`
		into = []any{&t.Unit, &t.Disposition.Case, &t.Disposition.Code, &t.Disposition.Disposal, &t.Disposition.Reason, &t.Disposition.By,
			&after, store.Time(&t.At)}
	}
	found, err := store.RowOf(ctx, tx, query, []any{t.ref}, into...)
	if err == nil && !found {
		err = errGone
	}
	if err != nil {
		return err
	}
	_, err = store.RowOf(ctx, tx, `SELECT code FROM run JOIN revision USING (revision)
		WHERE serial = ? AND seq <= ? ORDER BY seq DESC LIMIT 1`, []any{t.Unit, after}, &t.Product)
	return err
}
