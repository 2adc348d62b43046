package results

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"sync"
	"time"
)

// Store is one file of records. Its methods may be called from several
// goroutines; runs are saved one at a time.
type Store struct {
	path     string
	readOnly bool
	seams    seams

	saving sync.Mutex // held while a run is saved; guards words and last
	words  words
	last   ID // newest id this store has given out

	presence presence
	place    place
	open     sync.RWMutex // held for writing while the connections are replaced
	write    *sql.DB      // nil when readOnly
	read     *sql.DB
}

// seams are the places where tests take the world's part.
type seams struct {
	now        func() time.Time
	commit     func(*sql.Tx) error
	migrations fs.FS
	free       func(dir string) (uint64, error) // bytes left for us on the disk
	remote     func(dir string) (bool, error)   // whether it is a network drive
	ballast    int64                            // bytes
}

func world() seams {
	return seams{
		now:        time.Now,
		commit:     (*sql.Tx).Commit,
		migrations: embedded(),
		free:       freeBytes,
		remote:     remoteDisk,
		ballast:    ballastSize,
	}
}

// Open opens the store at path for testing units, creating it when there is
// none, bringing an older one up to date after a backup beside it, and checking
// it. A file of another kind, one written by a newer padjig and a damaged one
// are left untouched; the error says what to do.
func Open(ctx context.Context, path string) (*Store, error) {
	return openWith(ctx, path, world())
}

// OpenReadOnly opens an existing store for looking things up, also beside a
// running station. It neither migrates nor checks.
func OpenReadOnly(ctx context.Context, path string) (*Store, error) {
	s, err := newStore(path, world())
	if err != nil {
		return nil, err
	}
	s.readOnly = true
	if err := s.admit(ctx); err != nil {
		return nil, fmt.Errorf("open store %s: %w", path, err)
	}
	s.read = openReaders(s.path, nil)
	if err := s.read.PingContext(ctx); err != nil {
		return nil, fmt.Errorf("open store %s: %w", path, errors.Join(err, s.Close()))
	}
	return s, nil
}

// Close closes the store. The last process to close folds the log into the file.
func (s *Store) Close() error {
	s.open.Lock()
	defer s.open.Unlock()
	return s.leave()
}

// Path is where the store lies.
func (s *Store) Path() string { return s.path }

func newStore(path string, with seams) (*Store, error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("open store %s: %w", path, err)
	}
	return &Store{path: full, seams: with, words: newWords()}, nil
}

func openWith(ctx context.Context, path string, with seams) (*Store, error) {
	s, err := newStore(path, with)
	if err != nil {
		return nil, err
	}
	if err := s.start(ctx); err != nil {
		return nil, fmt.Errorf("open store %s: %w", path, errors.Join(err, s.leave()))
	}
	return s, nil
}

func (s *Store) start(ctx context.Context) error {
	if err := s.admit(ctx); err != nil && !errors.Is(err, ErrNoStore) {
		return err
	}
	if err := s.local(); err != nil {
		return err
	}
	present, alone, err := announce(s.path + lockEnd)
	if err != nil {
		return err
	}
	s.presence = present
	defer s.presence.share()
	crashed := alone && s.logBytes() > 0 // the last one to close takes the log away
	if err := s.create(ctx); err != nil {
		return err
	}
	if err := s.checkAtStart(ctx, startCheck(s.fileBytes(), crashed)); err != nil {
		return err
	}
	if err := s.catchUp(ctx); err != nil {
		return err
	}
	return s.closeAbandoned(ctx)
}

// create opens the file, making it where there is none, and brings it up to date,
// one process after another.
func (s *Store) create(ctx context.Context) error {
	done, err := takeTurn(filepath.Dir(s.path))
	if err != nil {
		return err
	}
	err = s.connect(ctx, "rwc")
	if err == nil {
		err = s.migrate(ctx)
	}
	return errors.Join(err, done())
}

// connect opens the file, and remembers which one that is.
func (s *Store) connect(ctx context.Context, mode string) error {
	before, err := s.place.before(s.path)
	if err != nil {
		return err
	}
	s.write, s.read = openWriter(s.path, mode), openReaders(s.path, func() error { return s.place.same(s.path) })
	if err := s.write.PingContext(ctx); err != nil {
		return err
	}
	return s.place.settle(s.path, before)
}

// leave lets go of the store, its presence last.
func (s *Store) leave() error {
	failed := s.disconnect()
	present := s.presence
	s.presence = presence{}
	return errors.Join(failed, present.leave())
}

func (s *Store) disconnect() error {
	var failed []error
	for _, db := range []*sql.DB{s.read, s.write} {
		if db != nil {
			failed = append(failed, s.abandon(db))
		}
	}
	s.read, s.write = nil, nil
	return errors.Join(failed...)
}

// reconnect replaces every connection. After an error at a commit it is the
// only way to learn what is in the file.
func (s *Store) reconnect(ctx context.Context) error {
	s.open.Lock()
	defer s.open.Unlock()
	if err := s.inPlace(ctx); err != nil {
		return err
	}
	// A failure to close says nothing new: the connection is given up for an error.
	_ = s.disconnect()
	return s.connect(ctx, "rw") // never create a new file in place of one that went away
}

// update runs do in one transaction that holds the write lock from its start.
// A failure of the commit comes back as a *commitError. It fails as well where
// the file that was written to is not the one under the store's name any more.
func (s *Store) update(ctx context.Context, do func(*sql.Tx) error) error {
	s.open.RLock()
	defer s.open.RUnlock()
	if s.write == nil {
		return cmp.Or(s.place.gone(), ErrClosed)
	}
	if err := s.inPlace(ctx); err != nil {
		return err
	}
	if err := s.transact(ctx, do); err != nil {
		return err
	}
	return s.inPlace(ctx)
}

func (s *Store) transact(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if err := do(tx); err != nil {
		return err
	}
	if err := s.seams.commit(tx); err != nil {
		return &commitError{err}
	}
	return nil
}

// outside runs do on the writing connection outside any transaction.
func (s *Store) outside(do func(*sql.DB) error) error {
	s.open.RLock()
	defer s.open.RUnlock()
	if err := s.place.gone(); err != nil {
		return err
	}
	if s.write == nil {
		return ErrClosed
	}
	return do(s.write)
}

// view runs do on one unchanging state of the store.
func (s *Store) view(ctx context.Context, do func(*sql.Tx) error) error {
	s.open.RLock()
	defer s.open.RUnlock()
	if err := s.place.gone(); err != nil {
		return err
	}
	if s.read == nil {
		return ErrClosed
	}
	tx, err := s.read.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	return do(tx)
}

// commitError is an error of a commit: the transaction may or may not be in the file.
type commitError struct{ err error }

func (e *commitError) Error() string { return "commit: " + e.err.Error() }
func (e *commitError) Unwrap() error { return e.err }
