package runs

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"padjig/results/store"
	"padjig/sequence"
)

// Ready is a run whose record and hash are formed, to be stored with others.
type Ready struct {
	rev    Revision
	record *Record
}

// Prepare forms the record of a run with everything that would be known when it
// is stored.
func Prepare(rev Revision, run sequence.Run, id store.ID, saved time.Time, station store.Station) (*Ready, error) {
	rec, err := newRecord(rev, run)
	if err != nil {
		return nil, err
	}
	rec.ID, rec.Saved, rec.Station = id, saved.UnixMicro(), station
	rec.hash, err = rec.sum()
	return &Ready{rev, rec}, err
}

// Alone runs do while nobody else in this process stores a run.
func (s *Records) Alone(do func() error) error {
	s.saving.Lock()
	defer s.saving.Unlock()
	defer s.forget()
	return do()
}

// Batch stores many runs in one transaction.
type Batch struct {
	store.Writer
	records *Records
	seq     int64
	last    store.ID // of the runs before the batch
}

// Batch begins one inside a transaction, for a caller that is alone.
func (s *Records) Batch(ctx context.Context, tx *sql.Tx) (*Batch, error) {
	seq, last, err := newest(ctx, tx)
	return &Batch{store.Writer{Ctx: ctx, Tx: tx, Interned: s.words}, s, seq, last}, err
}

// Add stores the next run.
func (b *Batch) Add(r *Ready) error {
	if !b.last.Before(r.record.ID) {
		return fmt.Errorf("%w: run of unit %q is not later than those in the store", store.ErrRefused, r.record.Serial)
	}
	b.seq++
	return b.records.write(writer{b.Writer}, b.seq, r.rev, r.record)
}
