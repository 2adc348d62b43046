package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/mattn/go-sqlite3"
)

// ErrLogBeside is returned for reading where runs are in the log beside the file, and the log cannot be read
// because nothing can be written there.
var ErrLogBeside = errors.New("part of the records is in the log beside the file")

// sealed says that a file lies where nothing can be written, as on a read-only medium. SQLite then needs
// to be told that nobody writes it, or it looks for an index of the log that it cannot make
// (https://www.sqlite.org/wal.html#readonly).
type sealed bool

func (s sealed) dsn(parameters string) string {
	if s {
		return "immutable=1&" + parameters
	}
	return parameters
}

// sealedAt finds out by reading. Where there is a log or its index somebody may be writing: then nothing is sealed.
func sealedAt(ctx context.Context, path string) (sealed, error) {
	if fileBytes(path) == 0 || mayWrite(filepath.Dir(path)) {
		return false, nil
	}
	db := pool(path, glanceDSN, nil, 1)
	defer db.Close()
	var tables int64
	err := db.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema`).Scan(&tables)
	if c := code(err); c != sqlite3.ErrCantOpen && c != sqlite3.ErrReadonly {
		return false, nil // whoever opens it for use meets the error, if there is one
	}
	for _, name := range logNames {
		if _, err := os.Lstat(path + name); err == nil && (name != logNames[0] || fileBytes(path+name) > 0) {
			return false, fmt.Errorf("%w: copy %s and %s%s to a folder that can be written, and read them there",
				ErrLogBeside, path, filepath.Base(path), logNames[0])
		}
	}
	return true, nil
}

// ManifestName is the file that makes a folder a backup.
const ManifestName = "padjig-backup.json"

// BackupName is the file of the records in a backup.
const BackupName = "records.sqlite"

// IsBackup reports whether a folder is a backup, or looks like one.
func IsBackup(folder string) bool {
	_, err := os.Stat(filepath.Join(folder, ManifestName))
	return err == nil
}
