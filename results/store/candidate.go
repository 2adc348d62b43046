package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/mattn/go-sqlite3"
)

// candidate is a file that is to be opened.
type candidate struct {
	path       string
	readOnly   bool
	sealed     sealed
	migrations fs.FS
}

func (s *DB) candidate() candidate {
	return candidate{s.path, s.readOnly, s.sealed, s.with.Migrations}
}

// checkHeader looks at the file without touching it and says whether it is ours.
func (c candidate) checkHeader(ctx context.Context) error {
	info, err := os.Stat(c.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return c.absent()
	case err != nil:
		return err
	case info.IsDir() && IsBackup(c.path):
		return fmt.Errorf("%w: it is a backup; padjig records restore %s puts it back", ErrReadOnly, c.path)
	case info.IsDir():
		return fmt.Errorf("%w: it is a folder; name a file in it", ErrForeign)
	case info.Size() == 0 && !c.readOnly:
		return nil // a create that was cut short
	case !c.readOnly && !(mayWrite(c.path) && mayWrite(filepath.Dir(c.path))):
		return fmt.Errorf("%w: %s may not be written by whoever started this; give them the right to write it and its folder, "+
			"or give --store another file", ErrReadOnly, c.path)
	case !c.readOnly && IsBackup(filepath.Dir(c.path)):
		return fmt.Errorf("%w: it is the file of a backup; padjig records restore %s puts it back", ErrReadOnly, filepath.Dir(c.path))
	}
	return c.readHeader(ctx)
}

// local refuses a network drive, where a write-ahead log cannot be shared and
// a sync may mean nothing.
func (s *DB) local() error {
	remote, err := s.with.Remote(filepath.Dir(s.path))
	if err == nil && remote {
		err = fmt.Errorf("%w: %s is a network drive; put the store on a disk of this computer",
			ErrUnsafe, filepath.Dir(s.path))
	}
	return err
}

func (c candidate) absent() error {
	dir := filepath.Dir(c.path)
	if _, err := os.Stat(dir); err != nil && c.readOnly {
		return fmt.Errorf("%w: there is no folder %s", ErrNoStore, dir)
	} else if err != nil {
		return fmt.Errorf("%w; create the folder %s first", err, dir)
	}
	return fmt.Errorf("%w; the first test of a unit creates it", ErrNoStore)
}

func (c candidate) readHeader(ctx context.Context) error {
	db := pool(c.path, c.sealed.dsn(glanceDSN), nil, 1)
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
	return c.acceptHeader(application, version, tables)
}

func (c candidate) acceptHeader(application, version, tables int64) error {
	newest, err := newestVersion(c.migrations)
	empty := application == 0 && version == 0 && tables == 0
	switch {
	case err != nil:
		return err
	case empty && c.readOnly:
		return fmt.Errorf("%w: the file is empty; the first test of a unit fills it", ErrNoStore)
	case empty:
		return nil
	case application != applicationID:
		return fmt.Errorf("%w: it is the SQLite file of another program (application id %#x); "+
			"choose another name for the store", ErrForeign, application)
	case version > newest:
		return fmt.Errorf("%w: the file has version %d, this padjig knows up to %d; use the newer padjig",
			ErrNewer, version, newest)
	case version < newest && c.readOnly:
		return fmt.Errorf("%w: the file has version %d, this padjig needs %d; test a unit with it once",
			ErrOlder, version, newest)
	}
	return nil
}
