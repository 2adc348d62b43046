package results

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"padjig/sequence"
)

// Entry is one thing that a simulated line left behind; exactly one of the
// pointers is set.
type Entry struct {
	At          time.Time // by the clock of the simulated line
	Run         *sequence.Run
	Revision    *Revision // of the run
	Lots        *LotChange
	Shifts      *ShiftPlan
	Calibration *sequence.Calibration
	Wear        *WearEvent

	record      *record
	calibration *calibrationRecord
}

// ErrRealRuns is returned by Rehearse for a store that holds runs of a real jig.
var ErrRealRuns = errors.New("the store holds runs of real jigs")

// rehearsed is the station that simulated runs name as theirs: the same on every computer.
var rehearsed = station{Host: "simulated line", Software: "padjig records simulate"}

// Rehearse stores what a simulated line did, as it would have been stored one
// by one, only faster: many entries share one commit. It takes simulated runs
// only, and refuses a store with real ones. Ids are drawn from seed, so that the
// same entries give the same records down to their hashes. When it ends early,
// what progress was told of is stored.
func (s *Store) Rehearse(ctx context.Context, seed uint64, entries <-chan Entry, progress func(runs int)) error {
	s.saving.Lock()
	defer s.saving.Unlock()
	r := &rehearsal{store: s, rng: rand.New(rand.NewPCG(seed, 0))}
	hashed := make(chan []Entry, 4)
	var failed error
	go func() {
		defer close(hashed)
		failed = r.prepare(ctx, entries, hashed)
	}()
	err := r.writeAll(ctx, hashed, progress)
	for range hashed { // let prepare end
	}
	s.words = newWords()
	if err := errors.Join(err, failed); err != nil {
		return fmt.Errorf("store a simulated line in %s: %w", s.path, err)
	}
	return nil
}

type rehearsal struct {
	store *Store
	rng   *rand.Rand
	last  ID
}

// together is how many entries share a commit.
const together = 2000

// prepare scales the runs and forms their hashes beside the writing.
func (r *rehearsal) prepare(ctx context.Context, entries <-chan Entry, hashed chan<- []Entry) error {
	batch := make([]Entry, 0, together)
	var failed error
	for e := range entries {
		if failed != nil {
			continue // whoever sends shall not be stuck
		}
		if failed = r.scale(&e); failed != nil {
			continue
		}
		if batch = append(batch, e); len(batch) == together {
			select {
			case hashed <- batch:
			case <-ctx.Done():
				failed = ctx.Err()
			}
			batch = make([]Entry, 0, together)
		}
	}
	if failed == nil {
		hashed <- batch
	}
	return failed
}

func (r *rehearsal) scale(e *Entry) (err error) {
	switch {
	case e.Run != nil:
		e.record, err = r.record(*e)
	case e.Calibration != nil:
		if e.calibration, err = newCalibrationRecord(*e.Calibration); err == nil {
			e.calibration.ID, e.calibration.Saved, e.calibration.Station = r.id(e.At), e.At.UnixMicro(), rehearsed
		}
	}
	return err
}

func (r *rehearsal) record(e Entry) (*record, error) {
	if !e.Run.Simulated {
		return nil, fmt.Errorf("%w: run of unit %q is not simulated", ErrRefused, e.Run.Serial)
	}
	rec, err := newRecord(*e.Revision, *e.Run)
	if err != nil {
		return nil, err
	}
	rec.ID, rec.Saved, rec.Station = r.id(e.At), e.At.UnixMicro(), rehearsed
	rec.hash, err = rec.sum()
	return rec, err
}

// id is larger than the ones before it, and depends on nothing but the seed and the time.
func (r *rehearsal) id(at time.Time) ID {
	milli := max(uint64(at.UnixMilli()), r.last.milli()+1)
	r.last = makeID(milli, uint16(r.rng.Uint32()), r.rng.Uint64())
	return r.last
}

func (r *rehearsal) writeAll(ctx context.Context, batches <-chan []Entry, progress func(int)) error {
	stored := 0
	for batch := range batches {
		err := r.store.update(ctx, func(tx *sql.Tx) error {
			n, err := r.write(ctx, tx, batch)
			stored += n
			return err
		})
		if err != nil {
			return err
		}
		if progress != nil {
			progress(stored)
		}
		if err := r.store.emptyLog(ctx); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// OnlySimulated gives ErrRealRuns for a store that holds runs of a real jig.
func OnlySimulated(ctx context.Context, s *Store) error {
	err := s.view(ctx, func(tx *sql.Tx) error { return onlySimulated(ctx, tx) })
	if err != nil {
		return fmt.Errorf("practise with %s: %w", s.path, err)
	}
	return nil
}

func onlySimulated(ctx context.Context, tx *sql.Tx) error {
	var real bool
	err := tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM cell WHERE simulated = 0 AND runs > 0)`).Scan(&real)
	if err == nil && real {
		err = ErrRealRuns
	}
	return err
}

func (r *rehearsal) write(ctx context.Context, tx *sql.Tx, batch []Entry) (runs int, err error) {
	if err := onlySimulated(ctx, tx); err != nil {
		return 0, err
	}
	seq, last, err := newest(ctx, tx)
	if err != nil {
		return 0, err
	}
	w := writer{context.WithoutCancel(ctx), tx, r.store.words} // spares a goroutine for each statement
	for _, e := range batch {
		if e.record != nil {
			if !last.before(e.record.ID) {
				return runs, fmt.Errorf("%w: run of unit %q is not later than those in the store",
					ErrRefused, e.record.Serial)
			}
			seq++
			runs++
			err = w.run(seq, e.Revision.Definition, e.record)
		} else {
			err = w.event(e)
		}
		if err != nil {
			return runs, err
		}
	}
	return runs, nil
}

func (w writer) event(e Entry) error {
	at := e.At.UnixMicro()
	switch {
	case e.Lots != nil:
		return saveLots(w.ctx, w.tx, *e.Lots, at)
	case e.Shifts != nil:
		return saveShifts(w.ctx, w.tx, *e.Shifts, at)
	case e.Wear != nil:
		return saveWear(w.ctx, w.tx, *e.Wear, at)
	case e.calibration != nil:
		return w.calibration(e.At, e.calibration)
	}
	return fmt.Errorf("%w: an entry is empty", ErrRefused)
}
