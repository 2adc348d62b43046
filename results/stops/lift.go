package stops

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"padjig/results/store"
)

// Reason is why a stop was lifted: what was the matter, in a tap.
type Reason string

// The reasons.
const (
	Material     Reason = "material"      // the units: a lot of a material is bad or was changed
	Cleaned      Reason = "cleaned"       // probes or the nest were cleaned
	Replaced     Reason = "replaced"      // a probe or another part of the jig was replaced
	Adjusted     Reason = "adjusted"      // the jig was set or repaired
	Handling     Reason = "handling"      // units were put in wrongly; who does it was shown
	NothingFound Reason = "nothing found" // looked for and not found: chance
)

// Reasons are all there are.
func Reasons() []Reason {
	return []Reason{Material, Cleaned, Replaced, Adjusted, Handling, NothingFound}
}

// Lifting is that somebody let a line, or a unit, go on.
type Lifting struct {
	By     string
	Reason Reason
	Note   string        // empty for none
	Took   time.Duration // since the stop was written down
	At     time.Time
}

// LiftedError is the error of a stop that was lifted before.
type LiftedError struct{ Stop }

func (e *LiftedError) Error() string {
	return fmt.Sprintf("stop %d was lifted by %s at %s (%s)",
		e.Number, e.Lifted.By, e.Lifted.At.UTC().Format(time.RFC3339), e.Lifted.Reason)
}

// ErrNotLifted is returned for a lifting that does not say who did it for which reason.
var ErrNotLifted = errors.New("a stop is lifted by somebody, for one of the reasons there are")

// Lift lets a line, or a unit, go on: the rules count anew behind the newest run. Only the
// stop of that number is lifted, once.
func (s *Records) Lift(ctx context.Context, number int64, l Lifting) (Stop, error) {
	if l.By == "" || !slices.Contains(Reasons(), l.Reason) {
		return Stop{}, fmt.Errorf("%w: by %q, reason %q", ErrNotLifted, l.By, l.Reason)
	}
	var lifted Stop
	now := s.db.Now()
	_, err := s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) {
		list, err := listIn(ctx, tx, `WHERE stop.seq = ?`, number)
		if err != nil {
			return nil, err
		}
		if len(list) == 0 {
			return nil, ErrNoStop
		}
		if list[0].Lifted != nil {
			return nil, &LiftedError{list[0]}
		}
		took, err := took(ctx, tx, number, now)
		if err != nil {
			return nil, err
		}
		newest, err := newestRun(ctx, tx)
		l.Took, l.At = took, now
		lifted = list[0]
		lifted.Lifted = &l
		return []store.Entry{l.entry(number, newest)}, err
	})
	if err != nil {
		return Stop{}, fmt.Errorf("lift stop %d: %w", number, err)
	}
	return lifted, nil
}

// took is how long a line stood. The clock that people set is asked only where the
// computer was started anew since.
func took(ctx context.Context, tx *sql.Tx, number int64, now time.Time) (time.Duration, error) {
	var boot string
	var mono *int64
	var at time.Time
	err := tx.QueryRowContext(ctx, `SELECT boot_id, mono_ns, at_us FROM stop WHERE seq = ?`, number).
		Scan(&boot, &mono, store.Time(&at))
	if up := store.Uptime(); up != nil && mono != nil && boot != "" && boot == store.ThisStation().BootID {
		return max(0, time.Duration(*up-*mono)), err
	}
	return max(0, now.Sub(at)), err
}

func (l Lifting) entry(number, newest int64) store.Entry {
	e := store.Entry{Table: "stop_lifting"}
	e.Set("stop", number)
	e.Set("reason", string(l.Reason))
	e.Set("note", l.Note)
	e.Set("by", l.By)
	e.Set("after_run", newest)
	e.Set("took_us", store.ToMicro(l.Took))
	e.Set("at_us", l.At)
	return e
}

// List gives stops, those that hold first, then the newest; of simulated lines or of real
// ones.
func (s *Records) List(ctx context.Context, simulated bool) (list []Stop, err error) {
	err = s.db.Ask(ctx, "list the stops", func(tx *sql.Tx) (err error) {
		list, err = listIn(ctx, tx, `WHERE stop.simulated = ?`, simulated)
		return err
	})
	slices.SortStableFunc(list, func(a, b Stop) int {
		if (a.Lifted == nil) != (b.Lifted == nil) {
			if a.Lifted == nil {
				return -1
			}
			return 1
		}
		return int(b.Number - a.Number)
	})
	return list, err
}

// Stop gives the stop of a number.
func (s *Records) Stop(ctx context.Context, number int64) (Stop, error) {
	var list []Stop
	err := s.db.Ask(ctx, "look up a stop", func(tx *sql.Tx) (err error) {
		list, err = listIn(ctx, tx, `WHERE stop.seq = ?`, number)
		return err
	})
	if err == nil && len(list) == 0 {
		err = fmt.Errorf("stop %d: %w", number, ErrNoStop)
	}
	if err != nil {
		return Stop{}, err
	}
	return list[0], nil
}

// listIn gives stops with their liftings; that of a unit may be the line's.
func listIn(ctx context.Context, tx *sql.Tx, where string, args ...any) ([]Stop, error) {
	stops, err := store.Collect(ctx, tx, scanStop, columns+where+` ORDER BY stop.after_run, stop.seq`, args...)
	if err != nil {
		return nil, err
	}
	for i := range stops {
		s := &stops[i]
		l := Lifting{}
		var seq int64
		found, err := store.RowOf(ctx, tx, `
			SELECT stop_lifting.seq, by, reason, note, took_us, stop_lifting.at_us
			FROM stop_lifting JOIN stop ON stop.seq = stop_lifting.stop
			WHERE stop.seq = ? OR ? <> '' AND jig = ? AND product = ? AND simulated = ? AND unit = '' AND
			      stop_lifting.after_run >= ?
			ORDER BY stop.seq <> ?, stop_lifting.seq LIMIT 1`,
			[]any{s.Number, s.Unit, s.Jig, s.Product, s.Simulated, s.Met.Run, s.Number},
			&seq, &l.By, &l.Reason, &l.Note, micro{&l.Took}, store.Time(&l.At))
		if err != nil {
			return nil, err
		}
		if found {
			s.Lifted = &l
		}
	}
	return stops, nil
}

// micro reads a duration that is stored in microseconds.
type micro struct{ into *time.Duration }

// Scan takes what was stored.
func (m micro) Scan(stored any) error {
	us, is := stored.(int64)
	if !is {
		return fmt.Errorf("duration of %T is no whole number", stored)
	}
	*m.into = store.FromMicro(us)
	return nil
}
