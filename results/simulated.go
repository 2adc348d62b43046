package results

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"padjig/results/care"
	"padjig/results/fails"
	"padjig/results/floor"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
)

// Entry is one thing that a simulated line left behind; exactly one of the
// pointers is set.
type Entry struct {
	At          time.Time // by the clock of the simulated line
	Run         *sequence.Run
	Revision    *runs.Revision // of the run
	Lots        *floor.LotChange
	Shifts      *floor.ShiftPlan
	Calibration *sequence.Calibration
	Wear        *care.WearEvent

	ready       *runs.Ready
	calibration *care.CalibrationRecord
}

// ErrRealRuns is returned by ImportSimulated for a store that holds runs of a real jig.
var ErrRealRuns = errors.New("the store holds runs of real jigs")

// simulatedStation is the station that simulated runs name as theirs: the same on every computer.
var simulatedStation = store.Station{Host: "simulated line", Software: "padjig records simulate"}

// ImportSimulated stores what a simulated line did, as it would have been stored one
// by one, only faster: many entries share one commit. It takes simulated runs
// only, and refuses a store with real ones. Ids are drawn from seed, so that the
// same entries give the same records down to their hashes. When it ends early,
// what progress was told of is stored.
func (s *Store) ImportSimulated(ctx context.Context, seed uint64, entries <-chan Entry, progress func(runs int)) error {
	r := &simulatedImport{store: s, rng: rand.New(rand.NewPCG(seed, 0))}
	hashed := make(chan []Entry, 4)
	var failed error
	err := s.Runs.Alone(func() error {
		go func() {
			defer close(hashed)
			failed = r.prepare(ctx, entries, hashed)
		}()
		err := r.writeAll(ctx, hashed, progress)
		for range hashed { // let prepare end
		}
		return err
	})
	if err := errors.Join(err, failed); err != nil {
		return fmt.Errorf("store a simulated line in %s: %w", s.Path(), err)
	}
	return nil
}

type simulatedImport struct {
	store *Store
	rng   *rand.Rand
	last  store.ID
}

// together is how many entries share a commit.
const together = 2000

// prepare scales the runs and forms their hashes beside the writing.
func (r *simulatedImport) prepare(ctx context.Context, entries <-chan Entry, hashed chan<- []Entry) error {
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

func (r *simulatedImport) scale(e *Entry) (err error) {
	switch {
	case e.Run != nil && !e.Run.Simulated:
		return fmt.Errorf("%w: run of unit %q is not simulated", store.ErrRefused, e.Run.Serial)
	case e.Run != nil:
		e.ready, err = runs.Prepare(*e.Revision, *e.Run, r.id(e.At), e.At, simulatedStation)
	case e.Calibration != nil:
		if e.calibration, err = care.NewCalibrationRecord(*e.Calibration); err == nil {
			e.calibration.ID, e.calibration.Saved, e.calibration.Station = r.id(e.At), e.At.UnixMicro(), simulatedStation
		}
	}
	return err
}

// id is larger than the ones before it, and depends on nothing but the seed and the time.
func (r *simulatedImport) id(at time.Time) store.ID {
	milli := max(uint64(at.UnixMilli()), r.last.Milli()+1)
	r.last = store.MakeID(milli, uint16(r.rng.Uint32()), r.rng.Uint64())
	return r.last
}

func (r *simulatedImport) writeAll(ctx context.Context, batches <-chan []Entry, progress func(int)) error {
	stored := 0
	for batch := range batches {
		err := r.store.db.Update(ctx, func(tx *sql.Tx) error {
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
		if err := r.store.db.EmptyLog(ctx); err != nil {
			return err
		}
	}
	return ctx.Err()
}

// OnlySimulated gives ErrRealRuns for a store that holds runs of a real jig.
func (s *Store) OnlySimulated(ctx context.Context) error {
	err := s.db.View(ctx, func(tx *sql.Tx) error { return onlySimulated(ctx, tx) })
	if err != nil {
		return fmt.Errorf("practise with %s: %w", s.Path(), err)
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

func (r *simulatedImport) write(ctx context.Context, tx *sql.Tx, batch []Entry) (stored int, err error) {
	if err := onlySimulated(ctx, tx); err != nil {
		return 0, err
	}
	b, err := r.store.Runs.Batch(context.WithoutCancel(ctx), tx) // spares a goroutine for each statement
	if err != nil {
		return 0, err
	}
	for _, e := range batch {
		if e.ready != nil {
			stored++
			if err = b.Add(e.ready); err == nil && fails.Owes(*e.Run) {
				err = fails.PlaceNewest(b.Ctx, tx, cmp.Or(e.Run.Operator, "line"), e.At)
			}
		} else {
			err = e.keep(b.Writer)
		}
		if err != nil {
			return stored, err
		}
	}
	return stored, nil
}

// keep stores what is no run.
func (e Entry) keep(w store.Writer) error {
	at := e.At.UnixMicro()
	switch {
	case e.Lots != nil:
		return floor.SaveLots(w.Ctx, w.Tx, *e.Lots, at)
	case e.Shifts != nil:
		return floor.SaveShifts(w.Ctx, w.Tx, *e.Shifts, at)
	case e.Wear != nil:
		return care.SaveWear(w.Ctx, w.Tx, *e.Wear, at)
	case e.calibration != nil:
		return e.calibration.Write(w, e.At)
	}
	return fmt.Errorf("%w: an entry is empty", store.ErrRefused)
}
