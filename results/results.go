// Package results opens the record of what was found: one SQLite file, and a room for
// each sort of thing that is kept in it.
//
// A [Store] hands the rooms out. Each keeps its own tables over the one database
// of results/store and knows nothing of a room that knows of it: lines, gauge,
// care and returns read what results/runs keeps, and results/hourly counts
// it, in the transaction that stores a run. That is put together here.
//
// Nothing is ever changed or removed. docs/records.md describes the tables to
// people with a SQLite shell.
//
// Several processes may use one file at a time, on one machine: SQLite's locks
// let one write at once, and the others wait up to five seconds for it. The file
// must not lie on a network drive. Nobody in the process may open the
// database file by other means, not even to read it: closing it again would
// silently drop SQLite's locks.
package results

import (
	"context"
	"database/sql"

	"padjig/results/accounts"
	"padjig/results/backup"
	"padjig/results/care"
	"padjig/results/fails"
	"padjig/results/floor"
	"padjig/results/handoff"
	"padjig/results/hourly"
	"padjig/results/lines"
	"padjig/results/listing"
	"padjig/results/nest"
	"padjig/results/notices"
	"padjig/results/pads"
	"padjig/results/plant/view"
	"padjig/results/releases"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/stops"
	"padjig/results/store"
	"padjig/results/studies"
	"padjig/results/tokens"
	"padjig/results/units"
	"padjig/results/worked"
)

// Store is one file of records, by its rooms. They may be used from several
// goroutines; runs are saved one at a time.
type Store struct {
	db *store.DB

	Runs     *runs.Records
	Nest     *nest.Records
	Releases *releases.Records
	Floor    *floor.Records
	Lines    *lines.Records
	Studies  *studies.Records
	Care     *care.Records
	Returns  *returns.Records
	Fails    *fails.Records
	Pads     *pads.Records
	Accounts *accounts.Records
	SignIns  accounts.SignIns
	Stops    *stops.Records
	Units    *units.Records
	Backups  *backup.Records
	HandOff  *handoff.Records
	Tokens   *tokens.Records
	Listing  *listing.Records
	Notices  *notices.Records
	Plant    *view.Records // what only the records of many stations say; nil for those of one

	Worked *worked.Memory // what answers worked out that depends on no record
}

// Open opens the store at path for testing units, creating it when there is
// none, bringing an older one up to date after a backup beside it, and checking
// it. A file of another kind, one written by a newer padjig and a damaged one
// are left untouched; the error says what to do.
func Open(ctx context.Context, path string) (*Store, error) { return OpenWith(ctx, path, store.Real()) }

// OpenWith does so with other dependencies than those of a store in use.
func OpenWith(ctx context.Context, path string, with store.Dependencies) (*Store, error) {
	db, err := store.Open(ctx, path, with, hourly.CatchUp, runs.CloseAbandoned)
	if err != nil {
		return nil, err
	}
	return rooms(db), nil
}

// OpenReadOnly opens an existing store for looking things up, also beside a
// running station. It neither migrates nor checks.
func OpenReadOnly(ctx context.Context, path string) (*Store, error) {
	db, err := store.OpenReadOnly(ctx, path)
	if err != nil {
		return nil, err
	}
	return rooms(db), nil
}

// Over gives the records of many stations, in a database with the tables of a plant, by the same
// rooms, for looking things up. name says in errors which database. Closing the store closes the pool.
func Over(pool *sql.DB, name string) *Store {
	db := store.Over(pool, name)
	s := rooms(db)
	s.Plant = view.On(db)
	return s
}

func rooms(db *store.DB) *Store {
	s := &Store{
		db: db, Nest: nest.On(db), Floor: floor.On(db), Lines: lines.On(db), Studies: studies.On(db), Fails: fails.On(db), Pads: pads.On(db),
		Accounts: accounts.On(db), SignIns: accounts.SignInsOf(db), Stops: stops.On(db), Units: units.On(db),
		Tokens: tokens.On(db), Listing: listing.On(db), Backups: backup.On(db), Notices: notices.On(db),
		Worked: new(worked.Memory),
	}
	s.Runs = runs.On(db, runs.Links{Counter: hourly.NewCounter(), Case: returns.Attempt, Past: returns.PastOf})
	s.Releases = releases.On(db, s.Runs)
	s.Care = care.On(db, s.Runs)
	s.Returns = returns.On(db, s.Runs, s.Care)
	s.HandOff = handoff.On(db, s.Runs, s.Fails, s.Returns)
	return s
}

// Path is where the store lies.
func (s *Store) Path() string { return s.db.Path() }

// OfMany reports whether these are the records of many stations, which can be told apart.
func (s *Store) OfMany() bool { return s.db.OfMany() }

// Close closes the store. The last process to close folds the log into the file.
func (s *Store) Close() error { return s.db.Close() }

// Twice gives runs of a plant that read another pad than the run before them under the same serial number.
func (s *Store) Twice(ctx context.Context, a pads.TwiceAsked) (pads.Twice, error) {
	return s.Pads.Twice(ctx, a, s.Runs.Numbered)
}

// View runs do on one unchanging state of the records, for those that carry them elsewhere.
func (s *Store) View(ctx context.Context, do func(*sql.Tx) error) error { return s.db.View(ctx, do) }

// Commits are how long commits took since the store was opened.
func (s *Store) Commits() store.Commits { return store.CommitsOf(s.db) }

// Room says whether a unit may be started: the disk has room enough that its
// run can be stored whatever happens meanwhile. Call it before each run.
func (s *Store) Room(ctx context.Context) error { return s.db.Room(ctx) }
