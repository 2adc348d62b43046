// Package backup takes copies of the records while they are written, puts them back, and keeps in the
// records when that was.
//
// A backup is a folder that is made under another name and gets its own when it is whole and on its disk: the
// file of the records as it was at one moment, which needs no log, the photos that it speaks of, and a
// manifest with the sum of each.
package backup

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"padjig/results/store"
)

// ErrNoBackup is returned for a folder that is no backup.
var ErrNoBackup = errors.New("not a backup of padjig")

// ErrDamaged is returned for a backup whose files are not those that were written.
var ErrDamaged = errors.New("the backup is damaged")

// Depth is how a backup was checked before it was called one.
type Depth string

// The depths.
const (
	Quick Depth = "quick" // SQLite's shorter look at the copy, and the sums of what was written
	Full  Depth = "full"  // besides that all that padjig records check does
)

// form is the version of the manifest and of what lies beside it.
const form = 1

// Manifest says what a backup is of and what is in it.
type Manifest struct {
	Backup   int       `json:"padjig_backup"` // its form
	Began    time.Time `json:"began"`
	Made     time.Time `json:"made"`
	Host     string    `json:"host"`
	Software string    `json:"software"`
	Store    string    `json:"store"`          // path of the records
	Born     int64     `json:"born_us"`        // of the records: when their first tables were made
	Schema   int64     `json:"schema_version"` // migration
	Runs     int64     `json:"runs"`
	Newest   *Run      `json:"newest_run"` // nil without a run
	Starts   int64     `json:"starts"`     // number of the newest start of a test
	Checked  Depth     `json:"checked"`
	Files    []File    `json:"files"`
	Lacking  []string  `json:"lacking_photos,omitempty"` // photos that could not be read or were not what was stored
}

// Run is a run by what tells it from every other.
type Run struct {
	Seq   int64     `json:"seq"`
	ID    store.ID  `json:"id"`
	Hash  string    `json:"hash"`
	Saved time.Time `json:"saved"`
}

// File is a file of a backup, by its path below the folder with slashes.
type File struct {
	Name   string `json:"name"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// Bytes are those of all files.
func (m Manifest) Bytes() (n int64) {
	for _, f := range m.Files {
		n += f.Bytes
	}
	return n
}

// of reports whether it is of the records that another is of, as the same station took it.
func (m Manifest) of(other Manifest) bool {
	return m.Host == other.Host && m.Store == other.Store && m.Born == other.Born
}

// Read gives the manifest of a backup.
func Read(folder string) (m Manifest, err error) {
	text, err := os.ReadFile(filepath.Join(folder, store.ManifestName))
	if err != nil {
		return m, fmt.Errorf("%w: %w; name the folder with %s in it", ErrNoBackup, err, store.ManifestName)
	}
	if err := json.Unmarshal(text, &m); err != nil {
		return m, fmt.Errorf("%w: its %s cannot be read: %w", ErrDamaged, store.ManifestName, err)
	}
	if m.Backup > form {
		return m, fmt.Errorf("%w: its form is %d and this padjig knows up to %d; use the newer padjig", store.ErrNewer, m.Backup, form)
	}
	for _, f := range m.Files {
		if !filepath.IsLocal(filepath.FromSlash(f.Name)) {
			return m, fmt.Errorf("%w: its %s names %q, which is not in it", ErrDamaged, store.ManifestName, f.Name)
		}
	}
	if m.Backup < 1 || !slices.ContainsFunc(m.Files, func(f File) bool { return f.Name == store.BackupName }) {
		return m, fmt.Errorf("%w: its %s names no %s", ErrDamaged, store.ManifestName, store.BackupName)
	}
	return m, nil
}

// Found is a backup in a folder of them.
type Found struct {
	Path string
	Manifest
}

// List gives the backups in a folder whose files are all there in their length, oldest first.
func List(folder string) (all []Found, err error) {
	names, err := os.ReadDir(folder)
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		path := filepath.Join(folder, name.Name())
		if !name.IsDir() || strings.HasPrefix(name.Name(), unfinished) {
			continue
		}
		if m, err := Read(path); err == nil && m.complete(path) {
			all = append(all, Found{path, m})
		}
	}
	slices.SortStableFunc(all, func(a, b Found) int { return a.Made.Compare(b.Made) })
	return all, nil
}

func (m Manifest) complete(folder string) bool {
	for _, f := range m.Files {
		info, err := os.Lstat(filepath.Join(folder, filepath.FromSlash(f.Name)))
		if err != nil || !info.Mode().IsRegular() || info.Size() != f.Bytes {
			return false
		}
	}
	return true
}

// Verify reads every file of a backup and says which are not what was written.
func (m Manifest) Verify(ctx context.Context, folder string, told func(done float64)) error {
	var wrong []error
	var read int64
	for _, f := range m.Files {
		sum, n, err := sumOf(ctx, filepath.Join(folder, filepath.FromSlash(f.Name)))
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			wrong = append(wrong, fmt.Errorf("%s cannot be read: %w", f.Name, err))
		case n != f.Bytes:
			wrong = append(wrong, fmt.Errorf("%s has %d bytes and had %d", f.Name, n, f.Bytes))
		case sum != f.SHA256:
			wrong = append(wrong, fmt.Errorf("%s is not what was written: its sum differs", f.Name))
		}
		read += f.Bytes
		told(float64(read) / float64(max(m.Bytes(), 1)))
	}
	if len(wrong) > 0 {
		return fmt.Errorf("%w: %w; take an older one", ErrDamaged, errors.Join(wrong...))
	}
	return nil
}

// sumOf reads a file to its end.
func sumOf(ctx context.Context, path string) (sum string, n int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	hash := sha256.New()
	n, err = io.Copy(hash, stoppable{ctx, f})
	return fmt.Sprintf("%x", hash.Sum(nil)), n, err
}

// stoppable is a file that is read until the context ends.
type stoppable struct {
	ctx context.Context
	io.Reader
}

func (s stoppable) Read(b []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.Reader.Read(b)
}
