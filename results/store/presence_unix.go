//go:build unix

package store

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// presence tells other processes that the store is in use, by a lock on a file
// beside it that the system lifts however the process ends.
type presence struct{ file *os.File }

// announce takes up presence at path and reports whether nobody else was there.
// It never waits: in doubt somebody is taken to be alone, who then only checks
// more than needed.
func announce(path string) (p presence, alone bool, err error) {
	p.file, err = os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return p, false, err
	}
	alone = unix.Flock(int(p.file.Fd()), unix.LOCK_EX|unix.LOCK_NB) == nil
	return p, alone, nil
}

// share lets others in, who then know that they are not alone.
func (p presence) share() { _ = unix.Flock(int(p.file.Fd()), unix.LOCK_SH|unix.LOCK_NB) }

func (p presence) leave() error {
	if p.file == nil {
		return nil
	}
	return p.file.Close()
}

// takeTurn waits until no other process is about to open a store in the folder.
// SQLite does not wait where two turn a new file to its log at once, and a store
// must be copied only once before it is migrated.
func takeTurn(folder string) (done func() error, err error) {
	f, err := os.Open(folder)
	if err != nil {
		return nil, err
	}
	for {
		if err = unix.Flock(int(f.Fd()), unix.LOCK_EX); !errors.Is(err, unix.EINTR) {
			break
		}
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f.Close, nil
}
