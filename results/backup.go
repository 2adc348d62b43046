package results

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"padjig/results/backup"
	"padjig/results/returns"
	"padjig/results/store"
)

// TakeBackup takes a backup of the records while they are written, whole or not at all. full has the copy checked
// as [Store.Check] does before it counts. Where the records are open for writing, it is kept in them what came of it.
func (s *Store) TakeBackup(ctx context.Context, o backup.Order, full bool) (backup.Taken, error) {
	began := s.db.Now()
	o.Photos, o.Now = returnPhotos, s.db.Now
	if full {
		o.Check = checkCopy
	}
	taken, err := backup.Take(ctx, s.db, o)
	if s.db.Writable() != nil || ctx.Err() != nil { // one that was given up is no failure
		return taken, err
	}
	if failed := s.Backups.Note(ctx, backup.Outcome(o, began, taken, err)); failed != nil {
		err = errors.Join(err, fmt.Errorf("keep in the records that it was taken: %w", failed))
	}
	return taken, err
}

// Restore makes a backup the records at a path, checks them in full before they get their name, and keeps in them
// that they were restored.
func Restore(ctx context.Context, r backup.Recovery) (backup.Restored, error) {
	r.Now = time.Now
	m, err := backup.Read(r.Backup)
	if err != nil {
		return backup.Restored{}, err
	}
	from, err := filepath.Abs(r.Backup)
	if err != nil {
		return backup.Restored{}, err
	}
	newest, err := store.NewestVersion()
	if err != nil {
		return backup.Restored{}, err
	}
	began := r.Now()
	r.Ready = func(ctx context.Context, path string, told func(done float64)) error {
		if m.Schema < newest { // the next start of a station brings it up to date, after a copy of its own
			return checkFile(ctx, path)
		}
		faults, err := checkCopy(ctx, path, told)
		if err != nil {
			return err
		}
		if len(faults) > 0 {
			return fmt.Errorf("%w: %s and so on, %d in all; take an older one", backup.ErrUnsound, faults[0], len(faults))
		}
		return noteRestore(ctx, path, backup.Deed{
			Restore: true, Folder: from, Name: filepath.Base(from), Checked: backup.Full,
			Runs: m.Runs, Bytes: m.Bytes(), Began: began,
		})
	}
	return backup.Restore(ctx, r)
}

func checkFile(ctx context.Context, path string) error {
	faults, err := store.QuickCheck(ctx, path)
	if err == nil && len(faults) > 0 {
		err = fmt.Errorf("%w: %s; take an older one", backup.ErrUnsound, faults[0])
	}
	return err
}

func noteRestore(ctx context.Context, path string, d backup.Deed) error {
	s, err := Open(ctx, path)
	if err != nil {
		return err
	}
	return errors.Join(s.Backups.Note(ctx, d), s.Close())
}

// checkCopy is the check of a file that nobody writes.
func checkCopy(ctx context.Context, path string, told func(done float64)) ([]string, error) {
	s, err := OpenReadOnly(ctx, path)
	if err != nil {
		return nil, err
	}
	defer s.Close()
	return s.CheckTold(ctx, told)
}

// returnPhotos are the photos of the returns desk.
func returnPhotos(ctx context.Context, tx *sql.Tx) ([]backup.Photo, error) {
	sums, err := returns.PhotoSums(ctx, tx)
	return store.Each(sums, func(sum string) backup.Photo {
		return backup.Photo{Sum: sum, At: func(records string) string { return returns.PhotoAt(records, sum) }}
	}), err
}
