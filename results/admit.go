package results

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/mattn/go-sqlite3"
)

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
	if _, err := os.Stat(dir); err != nil && s.readOnly {
		return fmt.Errorf("%w: there is no folder %s", ErrNoStore, dir)
	} else if err != nil {
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
