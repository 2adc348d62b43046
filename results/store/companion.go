package store

import (
	"bytes"
	"slices"
	"strings"
)

// IsStore reports whether a file that begins like this is a store, of whatever
// age and state, or another SQLite database.
func IsStore(head []byte) bool { return bytes.HasPrefix(head, []byte("SQLite format 3\x00")) }

// companions are the ends of the names of the files beside a store: SQLite's own,
// the lock that tells of presence, and the room set aside.
var companions = []string{"-wal", "-shm", "-journal", lockEnd, ballastEnd}

const (
	lockEnd    = "-lock"
	ballastEnd = "-ballast"
)

// IsCompanion reports whether a file of this name could be taken for one that
// belongs to a store, and be emptied or removed with it.
func IsCompanion(path string) bool {
	return slices.ContainsFunc(companions, func(end string) bool { return strings.HasSuffix(path, end) })
}

// LockPath is the file beside the store whose locks tell who has what in hand.
func (s *DB) LockPath() string { return s.path + lockEnd }
