package results

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

const (
	// ballastSize is kept beside the store to be given up when the disk is
	// full after all. It holds hundreds of the largest runs.
	ballastSize = 64 << 20
	// roomFloor is what must be free before a unit is started: the log may
	// grow to this while a reader holds back its checkpoint.
	roomFloor = 64 << 20
)

// Room says whether a unit may be started: the disk has room enough that its
// run can be stored whatever happens meanwhile. Call it before each run. It
// sets a ballast file aside beside the store, which Save gives up when the disk
// is full nonetheless, and uses the quiet moment to empty the log.
func (s *Store) Room(ctx context.Context) error {
	if s.readOnly {
		return ErrReadOnly
	}
	err := s.outside(func(*sql.DB) error { return s.inPlace(ctx) })
	if err == nil {
		err = s.room()
	}
	if err != nil {
		return fmt.Errorf("room for another run in %s: %w", s.path, err)
	}
	return s.emptyLog(ctx)
}

func (s *Store) room() error {
	need := uint64(roomFloor)
	_, err := os.Stat(s.ballastPath())
	missing := errors.Is(err, fs.ErrNotExist)
	if missing {
		need += uint64(s.seams.ballast)
	}
	free, err := s.seams.free(filepath.Dir(s.path))
	if err != nil {
		return err
	}
	if free < need {
		return fmt.Errorf("%w: %d MiB free, %d MiB needed; move other files off this disk",
			ErrNoRoom, free>>20, need>>20)
	}
	if missing {
		return s.takeBallast()
	}
	return nil
}

// emptyLog moves the log into the file as far as no reader needs it; it waits
// for nobody.
func (s *Store) emptyLog(ctx context.Context) error {
	return s.outside(func(db *sql.DB) error {
		var busy, inLog, moved int64
		return db.QueryRowContext(ctx, `PRAGMA wal_checkpoint(PASSIVE)`).Scan(&busy, &inLog, &moved)
	})
}

func (s *Store) ballastPath() string { return s.path + ballastEnd }

// takeBallast writes the file out: a hole would set nothing aside.
func (s *Store) takeBallast() error {
	f, err := os.OpenFile(s.ballastPath(), os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	if err := fill(f, s.seams.ballast); err != nil {
		return errors.Join(err, f.Close(), os.Remove(f.Name()))
	}
	return f.Close()
}

func fill(f *os.File, size int64) error {
	block := make([]byte, 1<<20)
	for done := int64(0); done < size; done += int64(len(block)) {
		if _, err := f.Write(block[:min(size-done, int64(len(block)))]); err != nil {
			return err
		}
	}
	return f.Sync()
}

// dropBallast makes room. Whether it helped shows at the next attempt to save.
func (s *Store) dropBallast() { _ = os.Remove(s.ballastPath()) }

// logBytes is the length of the write-ahead log. Only its name is looked at:
// opening it could drop SQLite's locks.
func (s *Store) logBytes() int64 {
	info, err := os.Stat(s.path + "-wal")
	if err != nil {
		return 0
	}
	return info.Size()
}

func (s *Store) fileBytes() int64 {
	info, err := os.Stat(s.path)
	if err != nil {
		return 0
	}
	return info.Size()
}
