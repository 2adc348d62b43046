package store

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

	"golang.org/x/sync/semaphore"

	"padjig/results/store/program"
)

// DB is one file of records. Its methods may be called from several goroutines;
// one transaction at a time writes.
type DB struct {
	path     string
	readOnly bool
	reading  *sql.TxOptions // of questions; nil where every transaction reads one unchanging state
	signs    bool           // what is written says by which program
	sealed   sealed
	with     Dependencies

	presence presence
	place    place
	open     sync.RWMutex // held for writing while the connections are replaced
	write    *sql.DB      // nil when readOnly
	turns    *semaphore.Weighted
	read     *sql.DB
	reserved *sql.DB // for those at a jig; nil: they take what all take

	committed commits
}

// Dependencies are what a store takes from the computer and the program around
// it; tests put others in their place.
type Dependencies struct {
	Now        func() time.Time
	Commit     func(*sql.Tx) error
	Migrations fs.FS
	Free       func(dir string) (uint64, error) // bytes left for us on the disk
	Remote     func(dir string) (bool, error)   // whether it is a network drive
	Ballast    int64                            // bytes
	Program    func() program.Program
}

// Real gives the dependencies of a store in use.
func Real() Dependencies {
	return Dependencies{
		Now:        time.Now,
		Commit:     (*sql.Tx).Commit,
		Migrations: embedded(),
		Free:       freeBytes,
		Remote:     remoteDisk,
		Ballast:    ballastSize,
		Program:    program.This,
	}
}

// Open opens the store at path for testing units, creating it when there is
// none, bringing an older one up to date after a backup beside it, and checking
// it. A file of another kind, one written by a newer padjig and a damaged one
// are left untouched; the error says what to do. What the rooms have to settle
// in a store of before comes last, as part of the opening.
func Open(ctx context.Context, path string, with Dependencies, settle ...func(context.Context, *DB) error) (*DB, error) {
	s, err := newStore(path, with)
	if err != nil {
		return nil, err
	}
	if err := s.start(ctx, settle); err != nil {
		return nil, fmt.Errorf("open store %s: %w", path, errors.Join(err, s.leave()))
	}
	return s, nil
}

// OpenReadOnly opens an existing store for looking things up, also beside a
// running station, from a medium that cannot be written, or a backup. It neither
// migrates nor checks.
func OpenReadOnly(ctx context.Context, path string) (*DB, error) {
	s, err := newStore(path, Real())
	if err != nil {
		return nil, err
	}
	s.readOnly = true
	if s.sealed, err = sealedAt(ctx, s.path); err != nil {
		return nil, fmt.Errorf("open store %s: %w", path, err)
	}
	if err := s.candidate().checkHeader(ctx); err != nil {
		return nil, fmt.Errorf("open store %s: %w", path, err)
	}
	s.read = poolOf(newConnector(s.path, s.sealed.dsn(readerDSN), anyJournal(readerSettings)), MaxReaders)
	if err := s.read.PingContext(ctx); err != nil {
		return nil, fmt.Errorf("open store %s: %w", path, errors.Join(err, s.Close()))
	}
	return s, nil
}

// Over gives a store for reading that lies elsewhere: any database with the tables of one. name
// says in errors which. It closes the pool.
func Over(pool *sql.DB, name string) *DB {
	return &DB{path: name, readOnly: true, with: Real(), read: pool,
		reading: &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}}
}

// Close closes the store. The last process to close folds the log into the file.
func (s *DB) Close() error {
	s.open.Lock()
	defer s.open.Unlock()
	return s.leave()
}

// OfMany reports whether these are the records of many stations: what [Over] gives.
func (s *DB) OfMany() bool { return s.reading != nil }

// Path is where the store lies.
func (s *DB) Path() string { return s.path }

// Now is the time by the clock of the computer.
func (s *DB) Now() time.Time { return s.with.Now() }

// Writable gives [ErrReadOnly] for a store opened for reading.
func (s *DB) Writable() error {
	if s.readOnly {
		return ErrReadOnly
	}
	return nil
}

func newStore(path string, with Dependencies) (*DB, error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("open store %s: %w", path, err)
	}
	return &DB{path: full, with: with, turns: semaphore.NewWeighted(1)}, nil
}

func (s *DB) start(ctx context.Context, settle []func(context.Context, *DB) error) error {
	if err := s.candidate().checkHeader(ctx); err != nil && !errors.Is(err, ErrNoStore) {
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
	if err := notInRestore(s.path); err != nil { // looked for after the lock is taken: see Seize
		return err
	}
	crashed := alone && fileBytes(s.path+"-wal") > 0 // the last one to close takes the log away
	if err := s.create(ctx); err != nil {
		return err
	}
	if err := checkAtStart(ctx, s.read, startCheck(fileBytes(s.path), crashed)); err != nil {
		return err
	}
	for _, do := range settle {
		if err := do(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

// create opens the file, making it where there is none, and brings it up to date,
// one process after another.
func (s *DB) create(ctx context.Context) error {
	done, err := takeTurn(filepath.Dir(s.path))
	if err != nil {
		return err
	}
	err = s.connect(ctx, "rwc")
	if err == nil {
		err = s.migrate(ctx)
	}
	if err == nil {
		newest, failed := newestVersion(s.with.Migrations)
		s.signs, err = newest >= signing, failed
	}
	return errors.Join(err, done())
}

// connect opens the file, and remembers which one that is.
func (s *DB) connect(ctx context.Context, mode string) error {
	before, err := s.place.before(s.path)
	if err != nil {
		return err
	}
	same := func() error { return s.place.same(s.path) }
	s.write, s.read, s.reserved = openWriter(s.path, mode), openReaders(s.path, same), openReaders(s.path, same)
	if err := s.write.PingContext(ctx); err != nil {
		return err
	}
	return s.place.settle(s.path, before)
}

// leave lets go of the store, its presence last.
func (s *DB) leave() error {
	failed := s.disconnect()
	present := s.presence
	s.presence = presence{}
	return errors.Join(failed, present.leave())
}

func (s *DB) disconnect() error {
	var failed []error
	for _, db := range []*sql.DB{s.read, s.reserved, s.write} {
		if db != nil {
			failed = append(failed, s.place.abandon(db))
		}
	}
	s.read, s.reserved, s.write = nil, nil, nil
	return errors.Join(failed...)
}

// Reconnect replaces every connection, and gives the ballast up where the disk was
// full. After an error at a commit it is the only way to learn what is in the file.
func (s *DB) Reconnect(ctx context.Context, cause error) error {
	s.dropBallastIfFull(cause)
	s.open.Lock()
	defer s.open.Unlock()
	if err := s.inPlace(ctx); err != nil {
		return err
	}
	// A failure to close says nothing new: the connection is given up for an error.
	_ = s.disconnect()
	return s.connect(ctx, "rw") // never create a new file in place of one that went away
}

// Update runs do in one transaction that holds the write lock from its start.
// A failure of the commit comes back as a *commitError. It fails as well where
// the file that was written to is not the one under the store's name any more.
func (s *DB) Update(ctx context.Context, do func(*sql.Tx) error) error {
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

func (s *DB) transact(ctx context.Context, do func(*sql.Tx) error) error {
	// In the order in which they came: package sql gives a connection to any of those who wait for it.
	if err := s.turns.Acquire(ctx, 1); err != nil {
		return err
	}
	defer s.turns.Release(1)
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if s.signs {
		if err := sign(ctx, tx, s.with.Program(), ThisStation().Host, s.Now()); err != nil {
			return fmt.Errorf("write down which program this is: %w", err)
		}
	}
	if err := do(tx); err != nil {
		return err
	}
	begun := time.Now()
	if err := s.with.Commit(tx); err != nil {
		return &commitError{err}
	}
	s.committed.note(time.Since(begun))
	return nil
}

// Outside runs do on the writing connection outside any transaction.
func (s *DB) Outside(do func(*sql.DB) error) error {
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

// reserving is the key of a context by which [Reserved] marks it.
type reserving struct{}

// Reserved marks what somebody at a jig waits for: it is read by connections that are kept for that. Otherwise as many
// long questions as read at once, each for a report, would hold up every lane until one of them ends.
func Reserved(ctx context.Context) context.Context { return context.WithValue(ctx, reserving{}, true) }

// View runs do on one unchanging state of the store.
func (s *DB) View(ctx context.Context, do func(*sql.Tx) error) error {
	s.open.RLock()
	defer s.open.RUnlock()
	if err := s.place.gone(); err != nil {
		return err
	}
	from := s.read
	if s.reserved != nil && ctx.Value(reserving{}) != nil {
		from = s.reserved
	}
	if from == nil {
		return ErrClosed
	}
	tx, err := from.BeginTx(ctx, s.reading)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	return do(tx)
}

// Ask is View for a question; its error says what for and where.
func (s *DB) Ask(ctx context.Context, what string, do func(*sql.Tx) error) error {
	if err := s.View(ctx, do); err != nil {
		return fmt.Errorf("%s in %s: %w", what, s.path, err)
	}
	return nil
}

// Save is Update for something to be kept whether or not the program is told to
// stop; its error says what, where and what a person can do.
func (s *DB) Save(ctx context.Context, what string, do func(*sql.Tx) error) error {
	if err := s.Update(context.WithoutCancel(ctx), do); err != nil {
		return fmt.Errorf("%s in %s: %w", what, s.path, Remedy(err))
	}
	return nil
}

// commitError is an error of a commit: the transaction may or may not be in the file.
type commitError struct{ err error }

func (e *commitError) Error() string { return "commit: " + e.err.Error() }

func (e *commitError) Unwrap() error { return e.err }
