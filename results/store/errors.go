package store

import (
	"errors"
	"fmt"

	"github.com/mattn/go-sqlite3"
)

// Errors of opening a store. Each comes wrapped with the file and a remedy.
var (
	// ErrNoStore is returned for reading where there is no file.
	ErrNoStore = errors.New("no store here")
	// ErrForeign is returned for a file that is no padjig store.
	ErrForeign = errors.New("not a padjig store")
	// ErrNewer is returned for a store written by a newer padjig.
	ErrNewer = errors.New("store is newer than this padjig")
	// ErrOlder is returned for reading a store that has yet to be migrated.
	ErrOlder = errors.New("store is older than this padjig")
	// ErrUnsafe is returned when SQLite will not take a setting that durability needs.
	ErrUnsafe = errors.New("unsafe database settings")
	// ErrDamaged is returned when the integrity check finds something.
	ErrDamaged = errors.New("store is damaged")
)

// Errors of saving.
var (
	// ErrRefused is returned for a run that contradicts itself or cannot be written down.
	ErrRefused = errors.New("run refused")
	// ErrBusy is returned when another process held the store for too long; nothing was stored.
	ErrBusy = errors.New("store is held by another process")
	// ErrInDoubt is returned when it is unknown whether the run is stored.
	ErrInDoubt = errors.New("unknown whether the run is stored")
	// ErrNoRoom is returned when the disk is too full to start a unit.
	ErrNoRoom = errors.New("too little room on the disk")
	// ErrReadOnly is returned for saving to a store opened for reading.
	ErrReadOnly = errors.New("store is open for reading only")
)

// ErrClosed is returned for any use of a store after Close.
var ErrClosed = errors.New("store is closed")

// ErrNotFound is returned for a run that is not in the store.
var ErrNotFound = errors.New("no such run")

// code is SQLite's primary result code of err, 0 when there is none.
func code(err error) sqlite3.ErrNo {
	if e, ok := errors.AsType[sqlite3.Error](err); ok {
		return e.Code
	}
	return 0
}

// Doubtful reports whether err leaves it open what is in the file, or how sound
// the connection is. Refusals and locks leave nothing open.
func Doubtful(err error) bool {
	if err == nil {
		return false
	}
	if _, atCommit := errors.AsType[*commitError](err); atCommit {
		return true
	}
	switch code(err) {
	case sqlite3.ErrIoErr, sqlite3.ErrFull, sqlite3.ErrNomem, sqlite3.ErrCantOpen:
		return true
	}
	return false
}

// Remedy says what a person can do about an error of saving.
func Remedy(err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, ErrInDoubt):
		return fmt.Errorf("%w; stop testing, check the disk, then look the unit up before testing it again", err)
	case errors.Is(err, ErrMoved):
		return err // it says itself what to do
	case code(err) == sqlite3.ErrBusy || code(err) == sqlite3.ErrLocked:
		return fmt.Errorf("%w (%w); nothing was stored: end the other program, then test the unit again",
			ErrBusy, err)
	case code(err) == sqlite3.ErrFull:
		return fmt.Errorf("%w (%w); nothing was stored: move other files off this disk, then test the unit again",
			ErrNoRoom, err)
	case Doubtful(err): // and settled: the record did not arrive
		return fmt.Errorf("%w; nothing was stored: check the disk, then test the unit again", err)
	}
	return err
}
