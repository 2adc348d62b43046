package runs

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"padjig/results/nest"
	"padjig/results/store"
	"padjig/sequence"
)

// NewestSeq is the number of the newest run inside a transaction, 0 before any.
func NewestSeq(ctx context.Context, tx *sql.Tx) (int64, error) {
	seq, _, err := newest(ctx, tx)
	return seq, err
}

// Save stores the run and, when it is new, the product revision, in one
// transaction, and returns only when both will survive a power cut. A run that
// contradicts itself, such as a pass with a failed key, is refused.
//
// What was measured shall not be lost because somebody stops the program, so
// Save does not end with ctx; it takes at most a few lock time-outs of five
// seconds. When the disk fails at the commit, Save opens the file anew, looks
// whether the run arrived, and stores it again if not. After any other error
// than [store.ErrInDoubt], nothing was stored.
//
// The run has no start: it was not made on a jig here. See [Records.Begin].
func (s *Records) Save(ctx context.Context, rev Revision, run sequence.Run) (store.ID, error) {
	return s.saveRun(ctx, rev, run, nil)
}

func (s *Records) saveRun(ctx context.Context, rev Revision, run sequence.Run, of *Begun) (store.ID, error) {
	id, err := s.save(context.WithoutCancel(ctx), rev, run, of)
	if err != nil {
		return store.ID{}, fmt.Errorf("save run of unit %q in %s: %w", run.Serial, s.db.Path(), err)
	}
	return id, nil
}

func (s *Records) save(ctx context.Context, rev Revision, run sequence.Run, of *Begun) (store.ID, error) {
	if err := s.db.Writable(); err != nil {
		return store.ID{}, err
	}
	r, err := newRecord(rev, run)
	if err != nil {
		return store.ID{}, err
	}
	if of != nil {
		r.Start, r.start = of.ID.String(), of.number
	}
	now := s.db.Now()
	r.Saved, r.Mono, r.ClockSynced, r.Station = now.UnixMicro(), store.Uptime(), store.ClockSynced(), store.ThisStation()

	s.saving.Lock()
	defer s.saving.Unlock()
	err = s.insert(ctx, now, rev, r, of)
	if store.Doubtful(err) {
		err = s.settle(ctx, now, rev, r, of, err)
	}
	return r.ID, store.Remedy(err)
}

// insert writes the record in one transaction and gives it its id there.
func (s *Records) insert(ctx context.Context, now time.Time, rev Revision, r *Record, of *Begun) error {
	kept := false
	defer func() {
		if !kept { // some may have been in the transaction that is gone, whatever ended it
			s.forget()
		}
	}()
	err := s.db.Update(ctx, func(tx *sql.Tx) error {
		seq, last, err := newest(ctx, tx)
		if err != nil {
			return err
		}
		if r.ID.IsZero() || !last.Before(r.ID) {
			r.ID = store.NextID(now, store.Later(last, s.last))
		}
		w := writer{store.Writer{Ctx: ctx, Tx: tx, Interned: s.words}}
		if err := s.write(w, seq+1, rev, r); err != nil || of == nil {
			return err
		}
		return of.counted(w, nest.AtEnd, of.AtEnd)
	})
	if err != nil {
		return err
	}
	kept = true
	s.last = store.Later(s.last, r.ID)
	return nil
}

// newest gives the sequence number and the id of the newest run of the store,
// whoever wrote it.
func newest(ctx context.Context, tx *sql.Tx) (seq int64, id store.ID, err error) {
	err = tx.QueryRowContext(ctx, `SELECT seq, id FROM run ORDER BY seq DESC LIMIT 1`).Scan(&seq, &id)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, store.ID{}, nil
	}
	return seq, id, err
}

// settle finds out on new connections whether the record arrived, and stores it
// if not. Trying the commit once more would prove nothing: after a failed write
// the system may hold pages for clean that never reached the disk.
func (s *Records) settle(ctx context.Context, now time.Time, rev Revision, r *Record, of *Begun, cause error) error {
	if arrived, err := s.lookAgain(ctx, r, cause); arrived || err != nil {
		return err
	}
	err := s.insert(ctx, now, rev, r, of)
	if !store.Doubtful(err) {
		return err
	}
	if arrived, lookErr := s.lookAgain(ctx, r, err); arrived || lookErr != nil {
		return lookErr
	}
	return fmt.Errorf("twice: %w, %w", cause, err)
}

// lookAgain opens the file anew and reports whether the record is in it. Its
// error is the one case in which nobody knows.
func (s *Records) lookAgain(ctx context.Context, r *Record, cause error) (arrived bool, err error) {
	if err := s.db.Reconnect(ctx, cause); err != nil {
		return false, fmt.Errorf("%w: %w; open again: %w", store.ErrInDoubt, cause, err)
	}
	arrived, err = s.holds(ctx, r)
	if err != nil {
		return false, fmt.Errorf("%w: %w; look it up: %w", store.ErrInDoubt, cause, err)
	}
	if arrived {
		s.last = store.Later(s.last, r.ID)
	}
	return arrived, nil
}

// holds reports whether the record is in the store, unaltered. It asks the
// writing connection: what that sees is what the next commit builds on.
func (s *Records) holds(ctx context.Context, r *Record) (bool, error) {
	want, err := r.sum()
	if err != nil {
		return false, err
	}
	var got []byte
	err = s.db.Outside(func(db *sql.DB) error {
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
