package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/mattn/go-sqlite3"
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
func (s *DB) Room(ctx context.Context) error {
	if err := s.Writable(); err != nil {
		return err
	}
	err := s.Outside(func(*sql.DB) error { return s.inPlace(ctx) })
	if err == nil {
		err = s.room()
	}
	if err != nil {
		return fmt.Errorf("room for another run in %s: %w", s.path, err)
	}
	return s.EmptyLog(ctx)
}

func (s *DB) room() error {
	need := uint64(roomFloor)
	beside := ballast{s.path + ballastEnd, s.with.Ballast}
	missing := beside.missing()
	if missing {
		need += uint64(beside.size)
	}
	free, err := s.with.Free(filepath.Dir(s.path))
	if err != nil {
		return err
	}
	if free < need {
		return fmt.Errorf("%w: %d MiB free, %d MiB needed; move other files off this disk",
			ErrNoRoom, free>>20, need>>20)
	}
	if missing {
		return beside.take()
	}
	return nil
}

// EmptyLog moves the log into the file as far as no reader needs it; it waits
// for nobody, and where somebody writes it leaves it to a quieter moment, or to the
// commit that makes the log long.
func (s *DB) EmptyLog(ctx context.Context) error {
	if !s.turns.TryAcquire(1) {
		return nil
	}
	defer s.turns.Release(1)
	return s.Outside(func(db *sql.DB) error {
		var busy, inLog, moved int64
		return db.QueryRowContext(ctx, `PRAGMA wal_checkpoint(PASSIVE)`).Scan(&busy, &inLog, &moved)
	})
}

// dropBallastIfFull makes room after an error of a full disk. Whether it helped
// shows at the next attempt to save.
func (s *DB) dropBallastIfFull(cause error) {
	if code(cause) == sqlite3.ErrFull {
		_ = os.Remove(s.path + ballastEnd)
	}
}

// ballast is a file that sets room aside.
type ballast struct {
	path string
	size int64
}

func (b ballast) missing() bool {
	_, err := os.Stat(b.path)
	return errors.Is(err, fs.ErrNotExist)
}

// take writes the file out: a hole would set nothing aside.
func (b ballast) take() error {
	f, err := os.OpenFile(b.path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	if err := fill(f, b.size); err != nil {
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

// fileBytes is the length of a file, 0 where there is none. Only its name is
// looked at: opening it could drop SQLite's locks.
func fileBytes(path string) int64 {
	info, err := os.Stat(path)
	if err != nil {
		return 0
	}
	return info.Size()
}
