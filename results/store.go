package results

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/mattn/go-sqlite3"
)

// Store is one file of records. Its methods may be called from several
// goroutines; runs are saved one at a time.
type Store struct {
	path     string
	readOnly bool
	seams    seams

	saving sync.Mutex // held while a run is saved; guards numbers and last
	words  words
	last   ID // newest id this store has given out

	presence presence
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
	s.read = openReaders(s.path)
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
	return &Store{path: full, seams: with, words: words{}}, nil
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
	present, alone, err := announce(s.path + "-lock")
	if err != nil {
		return err
	}
	s.presence = present
	defer s.presence.share()
	crashed := alone && s.logBytes() > 0 // the last one to close takes the log away
	if err := s.connect(ctx, "rwc"); err != nil {
		return err
	}
	if err := s.migrate(ctx); err != nil {
		return err
	}
	return s.checkAtStart(ctx, startCheck(s.fileBytes(), crashed))
}

// admit looks at the file without touching it and says whether it is ours.
func (s *Store) admit(ctx context.Context) error {
	info, err := os.Stat(s.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return s.absent()
	case err != nil:
		return err
	case info.IsDir():
		return fmt.Errorf("%w: it is a folder; name a file in it", ErrForeign)
	case info.Size() == 0 && !s.readOnly:
		return nil // a create that was cut short
	}
	return s.glance(ctx)
}

// local refuses a network drive, where a write-ahead log cannot be shared and
// a sync may mean nothing.
func (s *Store) local() error {
	remote, err := s.seams.remote(filepath.Dir(s.path))
	if err == nil && remote {
		err = fmt.Errorf("%w: %s is a network drive; put the store on a disk of this computer",
			ErrUnsafe, filepath.Dir(s.path))
	}
	return err
}

func (s *Store) absent() error {
	dir := filepath.Dir(s.path)
	if _, err := os.Stat(dir); err != nil {
		return fmt.Errorf("%w; create the folder %s first", err, dir)
	}
	return fmt.Errorf("%w; the first test of a unit creates it", ErrNoStore)
}

func (s *Store) glance(ctx context.Context) error {
	db := pool(s.path, glanceDSN, nil, 1)
	defer db.Close()
	var application, version, tables int64
	err := db.QueryRowContext(ctx, `
		SELECT (SELECT application_id FROM pragma_application_id),
		       (SELECT user_version FROM pragma_user_version),
		       (SELECT count(*) FROM sqlite_schema)`,
	).Scan(&application, &version, &tables)
	switch {
	case code(err) == sqlite3.ErrNotADB:
		return fmt.Errorf("%w: it is no SQLite file; choose another name for the store", ErrForeign)
	case code(err) == sqlite3.ErrCorrupt:
		return fmt.Errorf("%w (%w); %s", ErrDamaged, err, damagedRemedy)
	case err != nil:
		return err
	}
	return s.acceptHeader(application, version, tables)
}

func (s *Store) acceptHeader(application, version, tables int64) error {
	newest, err := newestVersion(s.seams.migrations)
	empty := application == 0 && version == 0 && tables == 0
	switch {
	case err != nil:
		return err
	case empty && s.readOnly:
		return fmt.Errorf("%w: the file is empty; the first test of a unit fills it", ErrNoStore)
	case empty:
		return nil
	case application != applicationID:
		return fmt.Errorf("%w: it is the SQLite file of another program (application id %#x); "+
			"choose another name for the store", ErrForeign, application)
	case version > newest:
		return fmt.Errorf("%w: the file has version %d, this padjig knows up to %d; use the newer padjig",
			ErrNewer, version, newest)
	case version < newest && s.readOnly:
		return fmt.Errorf("%w: the file has version %d, this padjig needs %d; test a unit with it once",
			ErrOlder, version, newest)
	}
	return nil
}

func (s *Store) connect(ctx context.Context, mode string) error {
	s.write, s.read = openWriter(s.path, mode), openReaders(s.path)
	return s.write.PingContext(ctx)
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
			failed = append(failed, db.Close())
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
	// A failure to close says nothing new: the connection is given up for an error.
	_ = s.disconnect()
	return s.connect(ctx, "rw") // never create a new file in place of one that went away
}

// update runs do in one transaction that holds the write lock from its start.
// A failure of the commit comes back as a *commitError.
func (s *Store) update(ctx context.Context, do func(*sql.Tx) error) error {
	s.open.RLock()
	defer s.open.RUnlock()
	if s.write == nil {
		return ErrClosed
	}
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
	if s.write == nil {
		return ErrClosed
	}
	return do(s.write)
}

// view runs do on one unchanging state of the store.
func (s *Store) view(ctx context.Context, do func(*sql.Tx) error) error {
	s.open.RLock()
	defer s.open.RUnlock()
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
