package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// backup writes a consistent copy of the store to path and its SHA-256 to
// path.sha256. The copy appears under its name only when it is on the disk and
// has been read back without a fault; an earlier copy of that name stays.
func backup(ctx context.Context, write *sql.DB, path string) error {
	if _, err := os.Stat(path); err == nil {
		return fmt.Errorf("%s exists already; move it to a safe place", path)
	}
	unfinished := path + ".unfinished"
	if err := os.Remove(unfinished); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if _, err := write.ExecContext(ctx, `VACUUM INTO ?`, unfinished); err != nil {
		return err
	}
	sum, err := secure(unfinished)
	if err != nil {
		return err
	}
	if err := compare(ctx, write, unfinished); err != nil {
		return fmt.Errorf("backup %s: %w", unfinished, err)
	}
	line := fmt.Appendf(nil, "%x  %s\n", sum, filepath.Base(path)) // as sha256sum --check reads it
	if err := os.WriteFile(path+".sha256", line, 0o644); err != nil {
		return err
	}
	if err := os.Rename(unfinished, path); err != nil {
		return err
	}
	return SyncFile(filepath.Dir(path))
}

// secure brings a finished copy to the disk and gives its SHA-256. VACUUM INTO
// leaves the copy unsynced.
func secure(path string) ([]byte, error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if err := f.Sync(); err != nil {
		return nil, err
	}
	hash := sha256.New()
	_, err = io.Copy(hash, f)
	return hash.Sum(nil), err
}

// SyncFile brings a file, or the names in a folder, to the disk.
func SyncFile(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	return f.Sync()
}

// compare checks the copy and counts its runs against the store's.
func compare(ctx context.Context, write *sql.DB, copied string) error {
	db := pool(copied, glanceDSN, nil, 1)
	defer db.Close()
	if faults, err := pragmaFaults(ctx, db, `PRAGMA integrity_check`); err != nil || len(faults) > 0 {
		return errors.Join(append(faultErrors(faults), err)...)
	}
	got, err := newestRun(ctx, db)
	if err != nil {
		return err
	}
	want, err := newestRun(ctx, write)
	if err != nil {
		return err
	}
	if got != want {
		return fmt.Errorf("the copy has %d runs, the store %d", got, want)
	}
	return nil
}

func newestRun(ctx context.Context, db *sql.DB) (seq int64, err error) {
	err = db.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM run`).Scan(&seq)
	return seq, err
}
