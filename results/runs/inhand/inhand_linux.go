package inhand

import (
	"errors"
	"fmt"
	"io"
	"os"

	"golang.org/x/sys/unix"
)

// Lock keeps a start in the hands of this process: a lock on one byte of the
// file beside the store, the byte of the start's number. It belongs to the open
// file description (F_OFD_SETLK, see fcntl_locking(2)), so that two lanes of one
// process are told apart like two processes, and the kernel lifts it however the
// holder ends. No clock and no process number has a say.
type Lock struct{ file *os.File }

// Take takes a start, or a unit, into this process's hands; ErrTaken where somebody has it.
func Take(path string, number int64) (Lock, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return Lock{}, err
	}
	if err := unix.FcntlFlock(f.Fd(), unix.F_OFD_SETLK, byteOf(number)); err != nil {
		_ = f.Close()
		if errors.Is(err, unix.EAGAIN) || errors.Is(err, unix.EACCES) {
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
	f, err := os.Open(path)
	if os.IsNotExist(err) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	defer f.Close()
	lock := byteOf(number)
	if err := unix.FcntlFlock(f.Fd(), unix.F_OFD_GETLK, lock); err != nil {
		return false, fmt.Errorf("ask for start %d: %w", number, err)
	}
	return lock.Type != unix.F_UNLCK, nil
}

func byteOf(number int64) *unix.Flock_t {
	return &unix.Flock_t{Type: unix.F_WRLCK, Whence: io.SeekStart, Start: number, Len: 1}
}
