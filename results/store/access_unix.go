//go:build unix

package store

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// mayWrite reports whether a file or folder that is there can be written: by its rights, and by its medium.
func mayWrite(path string) bool {
	err := unix.Faccessat(unix.AT_FDCWD, path, unix.W_OK, unix.AT_EACCESS)
	return !errors.Is(err, unix.EACCES) && !errors.Is(err, unix.EROFS) && !errors.Is(err, unix.EPERM)
}

// SameDisk reports whether two files or folders lie on one file system.
func SameDisk(a, b string) bool {
	var of [2]unix.Stat_t
	for i, path := range []string{a, b} {
		if unix.Stat(path, &of[i]) != nil {
			return false
		}
	}
	return of[0].Dev == of[1].Dev
}

// TryTurn takes a folder for this program alone as long as done was not called; taken is false where another has it.
func TryTurn(folder string) (done func() error, taken bool, err error) {
	p, err := os.Open(folder)
	if err != nil {
		return nil, false, err
	}
	err = unix.Flock(int(p.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return nil, false, p.Close()
	}
	return p.Close, true, nil // some network drives know no locks: then two may write beside each other, each in its own folder
}
