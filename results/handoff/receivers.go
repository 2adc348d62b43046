package handoff

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/results/store"
)

// What is written down of a receiver.
const (
	begun     = "begun"
	delivered = "delivered"
	again     = "again"
	failing   = "failing"
	refused   = "refused"
	setAside  = "set aside"
)

// Progress is how far a receiver got.
type Progress struct {
	Receiver string
	Has      int64     // number of the last event that it has, with all before; 0 for none
	Since    time.Time // it has it
	Behind   int64     // events after that
	Oldest   time.Time // when the first of them was stored; zero for none
	Trouble  *Trouble  // nil: none since the last one was delivered
	Aside    []int64   // events that are not sent to it, by a person's decision

	kept int64 // the row that says so
}

// Trouble is why the next event was not taken.
type Trouble struct {
	Event   int64
	ID      store.ID
	Refused bool // for good: nothing more is sent before a person decides
	Why     string
	At      time.Time
	Next    time.Time // when it is tried again; zero where it was refused
}

// Last is the newest of what can change what is to be sent: an event and what was written
// down of receivers. While both are the same there is nothing to look at.
type Last struct{ Event, Kept int64 }

// Last gives it.
func (s *Records) Last(ctx context.Context) (l Last, err error) {
	err = s.db.Ask(ctx, "look whether there is something to hand on", func(tx *sql.Tx) error {
		_, err := store.RowOf(ctx, tx, `SELECT (SELECT coalesce(max(seq), 0) FROM outbox), (SELECT coalesce(max(seq), 0) FROM hand_off)`,
			nil, &l.Event, &l.Kept)
		return err
	})
	return l, err
}

// Receivers gives how every receiver stands that there ever was, by their names.
func (s *Records) Receivers(ctx context.Context) (all []Progress, err error) {
	names, err := store.List(ctx, s.db, "list the receivers", store.ScanText, `SELECT DISTINCT receiver FROM hand_off ORDER BY receiver`)
	for _, name := range names {
		st, failed := s.Receiver(ctx, name)
		if failed != nil {
			return all, failed
		}
		all = append(all, *st)
	}
	return all, err
}

// Receiver gives how a receiver stands; nil for one that nothing is known of.
func (s *Records) Receiver(ctx context.Context, name string) (st *Progress, err error) {
	err = s.db.Ask(ctx, "look up receiver "+name, func(tx *sql.Tx) (err error) {
		st, err = progress(ctx, tx, name)
		return err
	})
	return st, err
}

func progress(ctx context.Context, tx *sql.Tx, name string) (*Progress, error) {
	st := &Progress{Receiver: name}
	kept, err := keptOf(ctx, tx, name)
	if err != nil || kept.seq == 0 {
		return nil, err
	}
	st.kept, st.Has, st.Since = kept.seq, kept.event, kept.at
	var newest int64
	if _, err := store.RowOf(ctx, tx, `SELECT coalesce(max(seq), 0) FROM outbox`, nil, &newest); err != nil {
		return nil, err
	}
	st.Behind = newest - st.Has
	if st.Aside, err = store.Collect(ctx, tx, store.ScanInt,
		`SELECT event FROM hand_off WHERE receiver = ? AND what = 'set aside' ORDER BY event`, name); err != nil {
		return nil, err
	}
	if st.Oldest, err = storedAt(ctx, tx, st.Has+1); err != nil {
		return nil, err
	}
	st.Trouble, err = trouble(ctx, tx, name)
	return st, err
}

// keptRow is the row that says how far a receiver got.
type keptRow struct {
	seq, event int64
	at         time.Time
}

func keptOf(ctx context.Context, tx *sql.Tx, name string) (k keptRow, err error) {
	_, err = store.RowOf(ctx, tx, `SELECT seq, event, at_us FROM hand_off
		WHERE receiver = ? AND what IN ('begun', 'delivered', 'again') ORDER BY seq DESC LIMIT 1`, []any{name}, &k.seq, &k.event, store.Time(&k.at))
	return k, err
}

// trouble is what the newest row says, whatever it is of: what a person decided, and what was
// delivered, end it.
func trouble(ctx context.Context, tx *sql.Tx, name string) (*Trouble, error) {
	var t Trouble
	var what string
	var next *int64
	found, err := store.RowOf(ctx, tx, `SELECT what, hand_off.event, why, at_us, next_us, id
		FROM hand_off JOIN outbox ON outbox.seq = hand_off.event WHERE receiver = ? ORDER BY hand_off.seq DESC LIMIT 1`,
		[]any{name}, &what, &t.Event, &t.Why, store.Time(&t.At), &next, &t.ID)
	if err != nil || !found || what != failing && what != refused {
		return nil, err
	}
	t.Refused = what == refused
	if next != nil {
		t.Next = time.UnixMicro(*next).UTC()
	}
	return &t, nil
}

// storedAt gives when what an event tells of was stored; zero where there is no such event.
func storedAt(ctx context.Context, tx *sql.Tx, number int64) (at time.Time, err error) {
	_, err = store.RowOf(ctx, tx, `SELECT coalesce(
		  (SELECT saved_us FROM run WHERE kind = 'run' AND run.seq = ref),
		  (SELECT at_us FROM override WHERE kind = 'override' AND override.seq = ref),
		  (SELECT at_us FROM placement WHERE kind = 'placement' AND placement.seq = ref),
		  (SELECT at_us FROM rework WHERE kind = 'rework' AND rework.seq = ref),
		  (SELECT at_us FROM return_disposition WHERE kind = 'disposition' AND return_disposition.seq = ref))
		FROM outbox WHERE outbox.seq = ?`, []any{number}, store.Time(&at))
	return at, err
}

// Begin gives how a receiver stands. To one that is new, all is handed on from now on.
func (s *Records) Begin(ctx context.Context, name string) (*Progress, error) {
	st, err := s.Receiver(ctx, name)
	if err != nil || st != nil {
		return st, err
	}
	err = s.keep(ctx, "begin to hand on to "+name, func(tx *sql.Tx) ([]store.Entry, error) {
		var newest int64
		_, err := store.RowOf(ctx, tx, `SELECT coalesce(max(seq), 0) FROM outbox`, nil, &newest)
		return []store.Entry{s.entry(name, begun, newest, "", "", time.Time{})}, err
	})
	if err != nil {
		return nil, err
	}
	return s.Receiver(ctx, name)
}

// ErrMoved says that a person said meanwhile from where on all is sent again.
var ErrMoved = errors.New("it was said meanwhile from where on all is sent again")

// Delivered keeps that a receiver has all events up to a number, and brings what is known of
// how it stands up to date. It is refused with [ErrMoved] where that is of before a person's word.
func (s *Records) Delivered(ctx context.Context, st *Progress, upTo int64) error {
	var now keptRow
	err := s.keep(ctx, "keep what "+st.Receiver+" has", func(tx *sql.Tx) (list []store.Entry, err error) {
		if now, err = keptOf(ctx, tx, st.Receiver); err == nil && now.seq != st.kept {
			err = ErrMoved
		}
		return []store.Entry{s.entry(st.Receiver, delivered, upTo, "", "", time.Time{})}, err
	})
	if err != nil {
		return err
	}
	fresh, err := s.Receiver(ctx, st.Receiver)
	if err == nil {
		*st = *fresh
	}
	return err
}

// Failing keeps that an event could not be delivered, why, and when it is tried again.
func (s *Records) Failing(ctx context.Context, name string, event int64, why string, next time.Time) error {
	return s.keep(ctx, "keep what became of an event", func(*sql.Tx) ([]store.Entry, error) {
		return []store.Entry{s.entry(name, failing, event, why, "", next)}, nil
	})
}

// Refused keeps that a receiver refused an event for good, and why.
func (s *Records) Refused(ctx context.Context, name string, event int64, why string) error {
	return s.keep(ctx, "keep what became of an event", func(*sql.Tx) ([]store.Entry, error) {
		return []store.Entry{s.entry(name, refused, event, why, "", time.Time{})}, nil
	})
}

// Why a person's word is refused.
var (
	ErrUnknown    = errors.New("no such receiver")
	ErrNotRefused = errors.New("it is not the event that this receiver refused")
	ErrAhead      = errors.New("this receiver is not that far")
)

// LeaveOut records a person's decision that a receiver, which stopped at an event since it
// refused it, never gets that one.
func (s *Records) LeaveOut(ctx context.Context, name string, event int64, by, reason string) error {
	return s.keep(ctx, "set an event aside", func(tx *sql.Tx) ([]store.Entry, error) {
		st, err := progress(ctx, tx, name)
		switch {
		case err != nil:
			return nil, err
		case st == nil:
			return nil, fmt.Errorf("%w: %s", ErrUnknown, name)
		case st.Trouble == nil || !st.Trouble.Refused || st.Trouble.Event != event:
			return nil, fmt.Errorf("%w: %d", ErrNotRefused, event)
		}
		return []store.Entry{s.entry(name, setAside, event, reason, by, time.Time{})}, nil
	})
}

// Again records a person's word that a receiver gets all from an event on, whether it had
// it or not: also what it refused, now that it would take it.
func (s *Records) Again(ctx context.Context, name string, from int64, by, reason string) error {
	return s.keep(ctx, "have all sent again", func(tx *sql.Tx) ([]store.Entry, error) {
		st, err := progress(ctx, tx, name)
		switch {
		case err != nil:
			return nil, err
		case st == nil:
			return nil, fmt.Errorf("%w: %s", ErrUnknown, name)
		case from > st.Has+1 || from < 1: // it would leave out what lies between
			return nil, fmt.Errorf("%w: it is to get event %d next", ErrAhead, st.Has+1)
		}
		return []store.Entry{s.entry(name, again, from-1, reason, by, time.Time{})}, nil
	})
}

// EventOf gives the number of the event of a run; 0 for none.
func (s *Records) EventOf(ctx context.Context, run store.ID) (int64, error) {
	return s.first(ctx, `SELECT outbox.seq FROM outbox JOIN run ON outbox.kind = 'run' AND run.seq = ref WHERE run.id = ? LIMIT 1`, run)
}

// EventSince gives the number of the event of the first run stored from a time on; 0 for none.
func (s *Records) EventSince(ctx context.Context, at time.Time) (int64, error) {
	return s.first(ctx, `SELECT outbox.seq FROM outbox JOIN run ON outbox.kind = 'run' AND run.seq = ref
		WHERE run.saved_us >= ? ORDER BY outbox.seq LIMIT 1`, at.UnixMicro())
}

func (s *Records) first(ctx context.Context, query string, args ...any) (int64, error) {
	found, err := store.First(ctx, s.db, "look up an event", store.ScanInt, query, args...)
	if err != nil || found == nil {
		return 0, err
	}
	return *found, nil
}

// keep appends rows, and says what is to do where that failed.
func (s *Records) keep(ctx context.Context, what string, rows func(*sql.Tx) ([]store.Entry, error)) error {
	if _, err := s.db.Append(ctx, rows); err != nil {
		return fmt.Errorf("%s in %s: %w", what, s.db.Path(), store.Remedy(err))
	}
	return nil
}

func (s *Records) entry(receiver, what string, event int64, why, by string, next time.Time) store.Entry {
	e := store.Entry{Table: "hand_off"}
	e.Set("receiver", receiver)
	e.Set("what", what)
	e.Set("event", event)
	e.Set("why", strings.Join(strings.Fields(why), " "))
	e.Set("by", by)
	if next.IsZero() {
		e.Set("next_us", nil)
	} else {
		e.Set("next_us", next)
	}
	e.Set("at_us", s.db.Now())
	return e
}

// Leaves reports whether a person decided that an event is not sent.
func (st *Progress) Leaves(event int64) bool {
	_, found := slices.BinarySearch(st.Aside, event)
	return found
}

// Checks are how outbox and receivers are looked at: every row that there is an event of has
// one, and just one.
func Checks() []store.Check { return []store.Check{store.Entries("hand_off"), complete} }

func complete(ctx context.Context, tx *sql.Tx) (found []string, err error) {
	for _, of := range []struct{ kind, rows string }{
		{"run", "run"}, {"override", "override WHERE serial <> ''"}, {"placement", "placement"}, {"rework", "rework"},
		{"disposition", "return_disposition"},
	} {
		query := fmt.Sprintf(`SELECT '%[1]s ' || seq || ' was never put into the outbox' FROM
			(SELECT seq FROM %[2]s EXCEPT SELECT ref FROM outbox WHERE kind = '%[1]s')
			UNION ALL SELECT 'outbox has %[1]s ' || ref || ' ' || count(*) || ' times' FROM outbox WHERE kind = '%[1]s' GROUP BY ref HAVING count(*) > 1
			UNION ALL SELECT 'outbox has %[1]s ' || ref || ', which is not in the records' FROM
			(SELECT ref FROM outbox WHERE kind = '%[1]s' EXCEPT SELECT seq FROM %[2]s)`, of.kind, of.rows)
		faults, err := store.Collect(ctx, tx, store.ScanText, query)
		found = append(found, faults...)
		if err != nil {
			return found, err
		}
	}
	return found, nil
}
