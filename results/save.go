package results

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"github.com/mattn/go-sqlite3"

	"padjig/sequence"
)

// Save stores the run and, when it is new, the product revision, in one
// transaction, and returns only when both will survive a power cut. A run that
// contradicts itself, such as a pass with a failed key, is refused.
//
// What was measured shall not be lost because somebody stops the program, so
// Save does not end with ctx; it takes at most a few lock time-outs of five
// seconds. When the disk fails at the commit, Save opens the file anew, looks
// whether the run arrived, and stores it again if not. After any other error
// than [ErrInDoubt], nothing was stored.
//
// The run has no start: it was not made on a jig here. See [Store.Begin].
func (s *Store) Save(ctx context.Context, rev Revision, run sequence.Run) (ID, error) {
	return s.saveRun(ctx, rev, run, nil)
}

func (s *Store) saveRun(ctx context.Context, rev Revision, run sequence.Run, of *Begun) (ID, error) {
	id, err := s.save(context.WithoutCancel(ctx), rev, run, of)
	if err != nil {
		return ID{}, fmt.Errorf("save run of unit %q in %s: %w", run.Serial, s.path, err)
	}
	return id, nil
}

func (s *Store) save(ctx context.Context, rev Revision, run sequence.Run, of *Begun) (ID, error) {
	if s.readOnly {
		return ID{}, ErrReadOnly
	}
	r, err := newRecord(rev, run)
	if err != nil {
		return ID{}, err
	}
	if of != nil {
		r.Start, r.start = of.ID.String(), of.number
	}
	now := s.seams.now()
	r.Saved, r.Mono, r.ClockSynced, r.Station = now.UnixMicro(), uptime(), clockSynced(), thisStation()

	s.saving.Lock()
	defer s.saving.Unlock()
	err = s.insert(ctx, now, rev.Definition, r)
	if doubtful(err) {
		err = s.settle(ctx, now, rev.Definition, r, err)
	}
	return r.ID, remedy(err)
}

// insert writes the record in one transaction and gives it its id there.
func (s *Store) insert(ctx context.Context, now time.Time, definition []byte, r *record) error {
	err := s.update(ctx, func(tx *sql.Tx) error {
		seq, last, err := newest(ctx, tx)
		if err != nil {
			return err
		}
		if r.ID.IsZero() || !last.before(r.ID) {
			r.ID = nextID(now, later(last, s.last))
		}
		return writer{ctx, tx, s.words}.run(seq+1, definition, r)
	})
	if err != nil {
		s.words = newWords() // some may have been in the transaction that is gone
		return err
	}
	s.last = later(s.last, r.ID)
	return nil
}

// newest gives the sequence number and the id of the newest run of the store,
// whoever wrote it.
func newest(ctx context.Context, tx *sql.Tx) (seq int64, id ID, err error) {
	err = tx.QueryRowContext(ctx, `SELECT seq, id FROM run ORDER BY seq DESC LIMIT 1`).Scan(&seq, &id)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, ID{}, nil
	}
	return seq, id, err
}

// doubtful reports whether err leaves it open what is in the file, or how sound
// the connection is. Refusals and locks leave nothing open.
func doubtful(err error) bool {
	if err == nil {
		return false
	}
	if _, atCommit := errors.AsType[*commitError](err); atCommit {
		return true
	}
	switch code(err) {
	case sqlite3.ErrIoErr, sqlite3.ErrFull, sqlite3.ErrNomem, sqlite3.ErrCantOpen:
		return true
	}
	return false
}

// settle finds out on new connections whether the record arrived, and stores it
// if not. Trying the commit once more would prove nothing: after a failed write
// the system may hold pages for clean that never reached the disk.
func (s *Store) settle(ctx context.Context, now time.Time, definition []byte, r *record, cause error) error {
	s.dropBallastIfFull(cause)
	if arrived, err := s.lookAgain(ctx, r, cause); arrived || err != nil {
		return err
	}
	err := s.insert(ctx, now, definition, r)
	if !doubtful(err) {
		return err
	}
	if arrived, lookErr := s.lookAgain(ctx, r, err); arrived || lookErr != nil {
		return lookErr
	}
	return fmt.Errorf("twice: %w, %w", cause, err)
}

// lookAgain opens the file anew and reports whether the record is in it. Its
// error is the one case in which nobody knows.
func (s *Store) lookAgain(ctx context.Context, r *record, cause error) (arrived bool, err error) {
	if err := s.reconnect(ctx); err != nil {
		return false, fmt.Errorf("%w: %w; open again: %w", ErrInDoubt, cause, err)
	}
	arrived, err = s.holds(ctx, r)
	if err != nil {
		return false, fmt.Errorf("%w: %w; look it up: %w", ErrInDoubt, cause, err)
	}
	if arrived {
		s.last = later(s.last, r.ID)
	}
	return arrived, nil
}

func (s *Store) dropBallastIfFull(cause error) {
	if code(cause) == sqlite3.ErrFull {
		s.dropBallast()
	}
}

// holds reports whether the record is in the store, unaltered. It asks the
// writing connection: what that sees is what the next commit builds on.
func (s *Store) holds(ctx context.Context, r *record) (bool, error) {
	want, err := r.sum()
	if err != nil {
		return false, err
	}
	var got []byte
	err = s.outside(func(db *sql.DB) error {
		return db.QueryRowContext(ctx, `SELECT hash FROM run WHERE id = ?`, r.ID).Scan(&got)
	})
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return false, nil
	case err != nil:
		return false, err
	case !bytes.Equal(got, want):
		return false, fmt.Errorf("run %s is stored with another content", r.ID)
	}
	return true, nil
}

// remedy says what a person can do about an error of saving.
func remedy(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, ErrInDoubt):
		return fmt.Errorf("%w; stop testing, check the disk, then look the unit up before testing it again", err)
	case errors.Is(err, ErrMoved):
		return err // it says itself what to do
	case code(err) == sqlite3.ErrBusy || code(err) == sqlite3.ErrLocked:
		return fmt.Errorf("%w (%w); nothing was stored: end the other program, then test the unit again",
			ErrBusy, err)
	case code(err) == sqlite3.ErrFull:
		return fmt.Errorf("%w (%w); nothing was stored: move other files off this disk, then test the unit again",
			ErrNoRoom, err)
	case doubtful(err): // and settled: the record did not arrive
		return fmt.Errorf("%w; nothing was stored: check the disk, then test the unit again", err)
	}
	return err
}

func (id ID) before(other ID) bool { return string(id[:]) < string(other[:]) }

func later(a, b ID) ID {
	if a.before(b) {
		return b
	}
	return a
}
