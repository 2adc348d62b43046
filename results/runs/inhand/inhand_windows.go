package inhand

import (
	"errors"
	"fmt"
	"os"

	"padjig/fixture/filelock"
)

// Lock keeps a start in the hands of this process: a lock on one byte of the file beside the store, the byte of
// the start's number. It belongs to the handle, so that two lanes of one process are told apart like two
// processes, and the system lifts it however the holder ends.
type Lock struct{ file *os.File }

// Take takes a start, or a unit, into this process's hands; ErrTaken where somebody has it.
func Take(path string, number int64) (Lock, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return Lock{}, err
	}
	if err := filelock.Claim(filelock.System{}, f, number); err != nil {
		_ = f.Close()
		if errors.Is(err, filelock.ErrTaken) {
			err = ErrTaken
		}
		return Lock{}, fmt.Errorf("take start %d: %w", number, err)
	}
	return Lock{f}, nil
}

// Release lets go of the start.
func (g Lock) Release() {
	if g.file != nil {
		_ = g.file.Close() // nothing was written
	}
}

// Held reports whether somebody has a start in hand, this process included.
func Held(path string, number int64) (bool, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if os.IsNotExist(err) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	defer f.Close()
	taken, err := filelock.Claimed(filelock.System{}, f, number)
	if err != nil {
		return false, fmt.Errorf("ask for start %d: %w", number, err)
	}
	return taken, nil
}
