package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"

	"github.com/mattn/go-sqlite3"
)

const (
	// copiedAtOnce are the pages between two looks whether to go on: 1 MiB.
	copiedAtOnce = 256
	// syncedAtOnce is after how many of those the copy is brought to its disk: what lies unwritten in memory would
	// else go there at the end all at once, and a unit that is stored meanwhile would wait for it.
	syncedAtOnce = 8
)

// CopyTo writes a copy of the store to a new file at path, of the state of this moment, and tells how
// much is done. Nobody who writes waits for it: it reads one state of the write-ahead log, pages as they are, and
// closes no lock that a writer needs. The copy is on its disk afterwards, and needs no log to be read.
func CopyTo(ctx context.Context, s *DB, path string, told func(done float64)) error {
	if err := s.place.gone(); err != nil {
		return err
	}
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("%s exists already", path)
	}
	source := ownReader(s)
	defer source.Close()
	conn, err := source.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	// The snapshot lasts as long as this transaction: without it SQLite would begin anew with each run that is stored.
	if _, err := conn.ExecContext(ctx, `BEGIN; SELECT count(*) FROM sqlite_schema`); err != nil {
		return err
	}
	err = conn.Raw(func(raw any) error { return copyPages(ctx, raw.(*sqlite3.SQLiteConn), path, told) })
	if code(err) == sqlite3.ErrFull {
		return fmt.Errorf("%w (%w); make room on the disk of %s", ErrNoRoom, err, path)
	}
	if err != nil {
		return fmt.Errorf("copy %s: %w", s.path, err)
	}
	return withoutLog(ctx, path)
}

// ownReader is a connection of its own, so that nobody waits for one of those there are.
func ownReader(s *DB) *sql.DB {
	connector := newConnector(s.path, s.sealed.dsn(readerDSN), anyJournal(readerSettings))
	if s.place.known() {
		connector.still = func() error { return s.place.same(s.path) }
	}
	return poolOf(connector, 1)
}

func copyPages(ctx context.Context, source *sqlite3.SQLiteConn, path string, told func(done float64)) (err error) {
	made, err := (&sqlite3.SQLiteDriver{}).Open(dataSource(path, "mode=rwc&_synchronous=OFF"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, made.Close()) }()
	b, err := made.(*sqlite3.SQLiteConn).Backup("main", source, "main")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.Finish()) }()
	for n := 1; ; n++ {
		done, err := b.Step(copiedAtOnce)
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return err
		}
		told(1 - float64(b.Remaining())/float64(max(b.PageCount(), 1)))
		if n%syncedAtOnce == 0 || done {
			err = SyncFile(path)
		}
		if done || err != nil {
			return err
		}
	}
}

// withoutLog turns a copy into a file that is read without anything beside it, also where nothing can be written.
func withoutLog(ctx context.Context, path string) error {
	db := pool(path, "mode=rw&_synchronous=FULL", nil, 1)
	var mode string
	err := db.QueryRowContext(ctx, `PRAGMA journal_mode = DELETE`).Scan(&mode)
	if err := errors.Join(err, db.Close()); err != nil {
		return err
	}
	if mode != "delete" {
		return fmt.Errorf("%w: the journal mode of the copy %s is %q", ErrUnsafe, path, mode)
	}
	return SyncFile(path)
}

// anyJournal are settings whatever way of writing the file has: for whoever only reads.
func anyJournal(of []setting) (left []setting) {
	for _, s := range of {
		if s.pragma != "journal_mode" {
			left = append(left, s)
		}
	}
	return left
}

// QuickCheck is SQLite's shorter look at a file that nobody writes.
func QuickCheck(ctx context.Context, path string) ([]string, error) {
	db := pool(path, glanceDSN, nil, 1)
	defer db.Close()
	return pragmaFaults(ctx, db, `PRAGMA quick_check`)
}

// Version is the number of the newest migration of the open store.
func Version(ctx context.Context, tx *sql.Tx) (version int64, err error) {
	return version, tx.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&version)
}

// NewestVersion is the newest migration that this program knows.
func NewestVersion() (int64, error) { return newestVersion(embedded()) }

// FreeAt is what may still be written in a folder, by what the store was told of the computer.
func FreeAt(s *DB, folder string) (uint64, error) { return s.with.Free(folder) }
