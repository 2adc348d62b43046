package backup

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"padjig/results/store"
)

// ErrThere is returned for restoring where there are records.
var ErrThere = errors.New("there are records already")

// Recovery is a backup that is to become the records.
type Recovery struct {
	Backup string // its folder
	To     string // file of the records
	Aside  bool   // records that are there are kept under another name

	// Ready is what is done with the records before they get their name, as checking them.
	Ready func(ctx context.Context, path string, told func(done float64)) error
	Told  func(step Step, done float64) // nil for nobody
	Now   func() time.Time
}

// Restored are records that are in their place.
type Restored struct {
	Manifest
	Path  string
	Aside string // where the records are that were there; empty: there were none
	Since Since  // what those had that the backup does not have
}

// Since is what records have that a backup of them does not have.
type Since struct {
	Known bool // else Why says why not
	Why   string
	Runs  []Lost
	Begun []string // serial numbers of units whose test was begun after it and has no run
}

// Lost is a run that is not in the backup.
type Lost struct {
	Seq     int64
	Serial  string
	Verdict string
	Purpose string
	Saved   time.Time
}

// Restore verifies a backup and makes it the records, which nobody may have open meanwhile. Records that
// are there are never written over.
func Restore(ctx context.Context, r Recovery) (Restored, error) {
	done, err := r.restore(ctx)
	if err != nil {
		return done, fmt.Errorf("restore %s: %w", r.Backup, err)
	}
	return done, nil
}

func (r Recovery) restore(ctx context.Context) (done Restored, err error) {
	if done.Manifest, err = Read(r.Backup); err != nil {
		return done, err
	}
	newest, err := store.NewestVersion()
	if err == nil && done.Schema > newest {
		err = fmt.Errorf("%w: it has version %d, this padjig knows up to %d; use the newer padjig", store.ErrNewer, done.Schema, newest)
	}
	if err != nil {
		return done, err
	}
	if folder := filepath.Dir(r.To); store.IsBackup(folder) {
		return done, fmt.Errorf("%w: %s is a backup; --to with a file elsewhere", ErrDestination, folder)
	}
	if _, err := os.Lstat(r.To); err == nil && !r.Aside {
		return done, fmt.Errorf("%w: %s; --aside keeps them under another name, --to names another file", ErrThere, r.To)
	}
	if err := done.Verify(ctx, r.Backup, func(part float64) { r.told("", part) }); err != nil {
		return done, err
	}
	r.told(Begun, 1)
	seized, err := store.Seize(r.To)
	if err != nil {
		return done, err
	}
	done.Path = seized.Path
	defer func() { err = errors.Join(err, seized.Release()) }()
	if err := r.prepare(ctx, done.Manifest, seized.New); err != nil {
		return done, errors.Join(err, giveUp(seized)) // what lies under the name of the records is as it was
	}
	if err := r.swap(seized, &done); err != nil {
		return done, err
	}
	if done.Aside != "" {
		done.Since = After(ctx, done.Aside, done.Manifest)
	}
	return done, nil
}

func (r Recovery) told(step Step, done float64) {
	if r.Told != nil {
		r.Told(step, done)
	}
}

// prepare makes the records under another name, on the disk and looked at.
func (r Recovery) prepare(ctx context.Context, m Manifest, path string) error {
	if err := removeRecords(path + ".part"); err != nil {
		return err
	}
	for _, f := range m.Files {
		// records.sqlite and what begins with it get the name of the records.
		end, ok := strings.CutPrefix(f.Name, store.BackupName)
		if !ok {
			continue
		}
		to := path + filepath.FromSlash(end)
		if end == "" {
			to = path + ".part" // the empty file under the name says that records are being restored
		}
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return err
		}
		if err := os.Remove(to); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		sum, _, err := copyFile(ctx, filepath.Join(r.Backup, filepath.FromSlash(f.Name)), to)
		if err == nil && sum != f.SHA256 {
			err = fmt.Errorf("%w: %s has another sum than a moment ago; look at its disk", ErrDamaged, f.Name)
		}
		if err != nil {
			return err
		}
	}
	if err := os.Rename(path+".part", path); err != nil {
		return err
	}
	if _, err := os.Lstat(path + photosEnd); err == nil {
		if err := syncFolders(path + photosEnd); err != nil {
			return err
		}
	}
	if err := store.SyncFile(filepath.Dir(path)); err != nil {
		return err
	}
	r.told(Copied, 1)
	if r.Ready == nil {
		return nil
	}
	err := r.Ready(ctx, path, func(part float64) { r.told(Copied, part) })
	r.told(Checked, 1)
	return errors.Join(err, removeAll(path+"-lock", path+"-ballast"))
}

// photosEnd is the end of the name of the folder with the photos beside the records.
const photosEnd = ".photos"

// parts are the ends of the names of what belongs to records, those first without which nobody opens the rest.
var parts = []string{"", "-wal", "-shm", "-journal", photosEnd}

// swap puts records that are there aside and the new ones in their place. As long as the new ones have not got
// their name, whoever opens the place is told that records are being restored; a swap that was cut
// short is carried out again from the start.
func (r Recovery) swap(at *store.Seized, done *Restored) error {
	if there := existing(at.Path); len(there) > 0 {
		done.Aside = r.asideName(at.Path)
		for _, end := range there {
			if err := os.Rename(at.Path+end, done.Aside+end); err != nil {
				return err
			}
			r.told(Named, 0)
		}
		if err := store.SyncFile(filepath.Dir(at.Path)); err != nil {
			return err
		}
	}
	for _, end := range []string{photosEnd, ""} {
		if _, err := os.Lstat(at.New + end); err != nil {
			continue
		}
		if err := os.Rename(at.New+end, at.Path+end); err != nil {
			return err
		}
		r.told(Named, 0)
	}
	err := store.SyncFile(filepath.Dir(at.Path))
	r.told(Named, 1)
	return err
}

func existing(path string) (there []string) {
	for _, end := range parts {
		if _, err := os.Lstat(path + end); err == nil {
			there = append(there, end)
		}
	}
	return there
}

// asideName is where records go that were there. What a swap that was cut short left is put together again.
func (r Recovery) asideName(path string) string {
	name := path + ".aside-" + r.Now().UTC().Format("20060102T150405Z")
	if _, err := os.Lstat(path); err != nil {
		before, _ := filepath.Glob(globbed(path) + ".aside-*Z")
		slices.Sort(before)
		for _, one := range slices.Backward(before) {
			if !meets(existing(path), one) {
				return one
			}
		}
	}
	free := name
	for n := 2; len(existing(free)) > 0; n++ {
		free = fmt.Sprintf("%s-%d", name, n)
	}
	return free
}

// meets reports whether one of these is there already.
func meets(ends []string, path string) bool {
	return slices.ContainsFunc(ends, func(end string) bool { return slices.Contains(existing(path), end) })
}

func globbed(path string) string {
	return strings.NewReplacer(`*`, `\*`, `?`, `\?`, `[`, `\[`, `\`, `\\`).Replace(path)
}

// giveUp removes what was made. Where a restore before this one was cut short after it had put the records aside, the
// sign of it stays: else a new store would be begun in their place.
func giveUp(at *store.Seized) error {
	err := removeRecords(at.New)
	if at.CutShort {
		err = errors.Join(err, os.WriteFile(at.New, nil, 0o644))
	}
	return err
}

func removeRecords(path string) error {
	for _, end := range parts {
		if err := os.RemoveAll(path + end); err != nil {
			return err
		}
	}
	return removeAll(path+"-lock", path+"-ballast", path+".part")
}

func removeAll(paths ...string) (err error) {
	for _, path := range paths {
		err = errors.Join(err, os.RemoveAll(path))
	}
	return err
}

// After says what records have that a backup of them does not have.
func After(ctx context.Context, records string, m Manifest) (s Since) {
	db, err := store.OpenReadOnly(ctx, records)
	if err != nil {
		return Since{Why: err.Error()}
	}
	defer db.Close()
	err = db.View(ctx, func(tx *sql.Tx) error {
		if m.Newest != nil {
			var id store.ID
			found, err := store.RowOf(ctx, tx, `SELECT id FROM run WHERE seq = ?`, []any{m.Newest.Seq}, &id)
			if err != nil {
				return err
			}
			if !found || id != m.Newest.ID {
				return fmt.Errorf("%s are not the records that the backup is of", records)
			}
		}
		err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
			var l Lost
			err := rows.Scan(&l.Seq, &l.Serial, &l.Verdict, &l.Purpose, store.Time(&l.Saved))
			s.Runs = append(s.Runs, l)
			return err
		}, `SELECT seq, serial, verdict, purpose, saved_us FROM run WHERE seq > ? ORDER BY seq`, m.Runs)
		if err != nil {
			return err
		}
		s.Begun, err = store.Collect(ctx, tx, store.ScanText, `
			SELECT serial FROM run_start WHERE seq > ? AND NOT EXISTS (SELECT 1 FROM run WHERE run.start = run_start.seq)
			GROUP BY serial ORDER BY min(seq)`, m.Starts)
		return err
	})
	s.Known = err == nil
	if err != nil {
		s.Why = err.Error() // what was read up to there is said all the same
	}
	return s
}
