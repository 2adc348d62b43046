package store

import (
	"errors"
	"os"
	"path/filepath"

	"padjig/fixture/filelock"
)

// presence tells other processes that the store is in use, by a lock on a file beside it that the system lifts
// however the process ends.
type presence struct {
	file  *os.File
	alone bool
}

// presenceByte lies behind all that starts and units lock in the same file.
const presenceByte = 1 << 62

// announce takes up presence at path and reports whether nobody else was there. It never waits.
func announce(path string) (p presence, alone bool, err error) {
	p.file, err = os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return p, false, err
	}
	p.alone, err = filelock.Announce(filelock.System{}, p.file, presenceByte)
	return p, p.alone, err
}

// share lets others in, who then know that they are not alone.
func (p presence) share() { _ = filelock.Settle(filelock.System{}, p.file, presenceByte, p.alone) }

func (p presence) leave() error {
	if p.file == nil {
		return nil
	}
	return p.file.Close()
}

// takeTurn waits until no other process is about to open a store in the folder. Windows has no locks on
// folders: a file in it stands for it.
func takeTurn(folder string) (done func() error, err error) {
	f, err := os.OpenFile(filepath.Join(folder, "padjig-turn.lock"), os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	if err := (filelock.System{}).Wait(f, presenceByte); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f.Close, nil
}
