package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// ErrHeld is returned where records are to be put in place while somebody has them open.
var ErrHeld = errors.New("the records are in use")

// ErrInRestore is returned for a store whose restoring was cut short.
var ErrInRestore = errors.New("records are being restored here, or that was cut short")

// restoringEnd is the end of the name of the file that is to become the store.
const restoringEnd = ".restoring"

// Seized is a place of records that nobody else may open for writing until it is released.
type Seized struct {
	Path string // of the records
	New  string // where what is to take their place is made, an empty file at first
	lock presence

	CutShort bool // another restore was, after it had put aside what was here
}

// Seize keeps everybody else from opening the records at path for writing. The new file is made before the lock is
// taken, and whoever opens records looks for it after they took theirs: so one of both sees the other.
func Seize(path string) (*Seized, error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	s := &Seized{Path: full, New: full + restoringEnd}
	f, err := os.OpenFile(s.New, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	made := err == nil
	if made {
		err = f.Close()
	}
	if err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("%w; --to with a file in a folder that can be written", err)
	}
	lock, alone, err := announce(full + lockEnd)
	if err == nil && !alone {
		err = errors.Join(fmt.Errorf("%w: end the station and every other padjig that has %s open, then restore again", ErrHeld, full), lock.leave())
	}
	if err != nil && made {
		err = errors.Join(err, os.Remove(s.New))
	}
	if err != nil {
		return nil, err
	}
	s.lock = lock
	if _, err := os.Lstat(full); err != nil {
		s.CutShort = !made
	}
	return s, nil
}

// Release lets others open what lies there now.
func (s *Seized) Release() error { return s.lock.leave() }

func notInRestore(path string) error {
	if _, err := os.Lstat(path + restoringEnd); err != nil {
		return nil
	}
	return fmt.Errorf("%w: let padjig records restore end, or carry it out again; only if the records at %s are the ones to go on "+
		"with, delete %s", ErrInRestore, path, path+restoringEnd)
}
