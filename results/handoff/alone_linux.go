package handoff

import (
	"errors"
	"hash/fnv"
	"io"
	"os"

	"golang.org/x/sys/unix"
)

// receiversFrom is where the bytes of receivers begin in the lock file, behind those of units.
const receiversFrom = 1 << 42

// Alone takes a receiver into this program's hands: of two stations on one store one sends
// to it. The lock is of the open file (F_OFD_SETLK, see fcntl_locking(2)): the kernel lifts it however its
// holder ends, so that no clock has to be waited for. taken: somebody else sends.
func (s *Records) Alone(receiver string) (release func(), taken bool, err error) {
	f, err := os.OpenFile(s.db.LockPath(), os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, false, err
	}
	h := fnv.New32a()
	_, _ = h.Write([]byte(receiver)) // never fails
	lock := unix.Flock_t{Type: unix.F_WRLCK, Whence: io.SeekStart, Start: receiversFrom + int64(h.Sum32()), Len: 1}
	err = unix.FcntlFlock(f.Fd(), unix.F_OFD_SETLK, &lock)
	if err != nil {
		_ = f.Close()
		if errors.Is(err, unix.EAGAIN) || errors.Is(err, unix.EACCES) {
			return nil, true, nil
		}
		return nil, false, err
	}
	return func() { _ = f.Close() }, false, nil // nothing was written
}
