package backup

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"padjig/results/store"
)

// Errors of taking a backup. Each comes with the folder and a remedy.
var (
	// ErrDestination is returned for a folder that backups cannot go to.
	ErrDestination = errors.New("no place for a backup")
	// ErrTwice is returned while another backup is written to the same folder.
	ErrTwice = errors.New("another backup is being written there")
	// ErrUnsound is returned where the copy is not sound: neither are the records, or a disk.
	ErrUnsound = errors.New("the copy is not sound")
)

const (
	named      = "padjig-" // and the time in UTC: the name of a backup
	unfinished = ".padjig-unfinished-"
)

// Order is what is to be backed up, and where to.
type Order struct {
	Folder    string // with the backups in it; it is there already
	Scheduled bool
	Keep      int // of these records, older ones are removed; 0: all

	// Check is padjig records check of the copy, nil for a quick look.
	Check func(ctx context.Context, path string, told func(done float64)) ([]string, error)
	// Photos are those that the copy speaks of.
	Photos func(ctx context.Context, tx *sql.Tx) ([]Photo, error)
	Told   func(step Step, done float64) // how much of a step is done, from 0 to 1; nil for nobody
	Now    func() time.Time
}

// Photo is a file beside the records, by its sum, and where it lies below the place of any records.
type Photo struct {
	Sum string
	At  func(records string) string
}

// Step is a part of a backup or a restore.
type Step string

// The steps, in their order. What is told of them has happened.
const (
	Begun     Step = "begun"
	Copied    Step = "copied"
	Pictured  Step = "photos"
	Checked   Step = "checked"
	Described Step = "described"
	Synced    Step = "synced"
	Named     Step = "named"
	Pruned    Step = "pruned"
)

// Taken is a backup that is whole.
type Taken struct {
	Found
	SameDisk bool     // as the records: lost with it
	Linked   int      // photos that share their room with those of the backup before
	Pruned   []string // backups that were removed
	Left     []error  // what could not be removed
}

// Take makes a backup. Whatever happens meanwhile, the folder never holds one that is not whole.
func Take(ctx context.Context, db *store.DB, o Order) (Taken, error) {
	t, err := o.take(ctx, db)
	if err != nil {
		return t, fmt.Errorf("back up %s to %s: %w", db.Path(), o.Folder, err)
	}
	return t, nil
}

func (o Order) take(ctx context.Context, db *store.DB) (t Taken, err error) {
	folder, err := place(o.Folder, db.Path())
	if err != nil {
		return t, err
	}
	done, alone, err := store.TryTurn(folder)
	if err != nil {
		return t, fmt.Errorf("%w: %w", ErrDestination, err)
	}
	if !alone {
		return t, fmt.Errorf("%w; wait until it is done", ErrTwice)
	}
	defer done()
	w := work{o, db, folder, filepath.Join(folder, fmt.Sprintf("%s%d-%d", unfinished, o.Now().UnixMicro(), os.Getpid()))}
	w.clear()
	t.SameDisk = store.SameDisk(folder, filepath.Dir(db.Path()))
	if err := w.room(t.SameDisk); err != nil {
		return t, err
	}
	if err := os.Mkdir(w.temp, 0o755); err != nil {
		return t, fmt.Errorf("%w: %w", ErrDestination, err)
	}
	defer os.RemoveAll(w.temp) // no longer there under that name when all went well
	w.told(Begun, 1)
	if t.Manifest, t.Linked, err = w.fill(ctx); err != nil {
		return t, err
	}
	if t.Path, err = w.name(t.Manifest); err != nil {
		return t, err
	}
	w.told(Named, 1)
	t.Pruned, t.Left = w.prune(t.Found)
	w.told(Pruned, 1)
	return t, nil
}

func (o Order) told(step Step, done float64) {
	if o.Told != nil {
		o.Told(step, done)
	}
}

// place is the folder that backups go to, or why none can.
func place(folder, records string) (string, error) {
	full, err := filepath.Abs(folder)
	if err == nil {
		full, err = filepath.EvalSymlinks(full)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("%w: there is no folder %s; connect its disk, or create it: it is not made here, "+
			"since a disk that is not there would be written on the one below it", ErrDestination, folder)
	}
	if err != nil {
		return "", fmt.Errorf("%w: %w", ErrDestination, err)
	}
	info, err := os.Stat(full)
	if err != nil || !info.IsDir() {
		return "", fmt.Errorf("%w: %s is no folder; name one", ErrDestination, folder)
	}
	of, err := filepath.EvalSymlinks(filepath.Dir(records))
	if err != nil {
		return "", err
	}
	for _, inside := range []string{of, records + ".photos"} {
		if below, err := filepath.Rel(inside, full); err == nil && filepath.IsLocal(below) {
			return "", fmt.Errorf("%w: %s is in the folder of the records, and would be lost with them; "+
				"name one on another disk", ErrDestination, folder)
		}
	}
	if store.IsBackup(full) {
		return "", fmt.Errorf("%w: %s is a backup itself; name the folder that it is in", ErrDestination, folder)
	}
	return full, nil
}

// work is one backup in the making.
type work struct {
	Order
	db     *store.DB
	folder string
	temp   string // becomes the backup
}

// clear removes what backups that were cut short left: nobody else is at work in this folder.
func (w work) clear() {
	names, _ := os.ReadDir(w.folder)
	for _, name := range names {
		if name.IsDir() && strings.HasPrefix(name.Name(), unfinished) {
			_ = os.RemoveAll(filepath.Join(w.folder, name.Name()))
		}
	}
}

// room refuses what would not fit, and what would take from testing the room it needs.
func (w work) room(sameDisk bool) error {
	info, err := os.Stat(w.db.Path())
	if err != nil {
		return err
	}
	const spare = 16 << 20 // the manifest, and the runs stored until the copy is made
	const testing = 192 << 20
	need := uint64(info.Size()) + spare
	if sameDisk {
		need += testing
	}
	free, err := store.FreeAt(w.db, w.folder)
	if err == nil && free < need {
		return fmt.Errorf("%w: %d MiB free, %d MiB needed; remove old backups or other files, or name another disk",
			store.ErrNoRoom, free>>20, need>>20)
	}
	return nil
}

// fill makes everything that is in the backup, the manifest last, and brings it to the disk.
func (w work) fill(ctx context.Context) (m Manifest, linked int, err error) {
	m = Manifest{Backup: form, Began: w.Now().UTC(), Host: store.ThisStation().Host, Software: store.Software(), Store: w.db.Path()}
	copied := filepath.Join(w.temp, store.BackupName)
	if err := store.CopyTo(ctx, w.db, copied, func(done float64) { w.told("", done) }); err != nil {
		return m, 0, err
	}
	w.told(Copied, 1)
	var photos []Photo
	if err := m.ask(ctx, copied, func(tx *sql.Tx) (err error) {
		photos, err = w.Photos(ctx, tx)
		return err
	}); err != nil {
		return m, 0, err
	}
	if linked, err = w.photos(ctx, photos, &m); err != nil {
		return m, linked, err
	}
	w.told(Pictured, 1)
	if err := w.check(ctx, copied, &m); err != nil {
		return m, linked, err
	}
	w.told(Checked, 1)
	m.Made = w.Now().UTC()
	text, err := json.MarshalIndent(m, "", "  ")
	if err == nil {
		err = writeSynced(filepath.Join(w.temp, store.ManifestName), append(text, '\n'))
	}
	if err != nil {
		return m, linked, err
	}
	w.told(Described, 1)
	err = syncFolders(w.temp)
	w.told(Synced, 1)
	return m, linked, err
}

// ask fills in what the copy says of itself.
func (m *Manifest) ask(ctx context.Context, path string, also func(*sql.Tx) error) error {
	copied, err := store.OpenReadOnly(ctx, path)
	if err != nil {
		return err
	}
	defer copied.Close()
	return copied.View(ctx, func(tx *sql.Tx) (err error) {
		if m.Schema, err = store.Version(ctx, tx); err != nil {
			return err
		}
		if err := tx.QueryRowContext(ctx, `SELECT applied_us FROM migration WHERE version = 1`).Scan(&m.Born); err != nil {
			return err
		}
		var newest Run
		found, err := store.RowOf(ctx, tx, `SELECT seq, id, lower(hex(hash)), saved_us FROM run ORDER BY seq DESC LIMIT 1`, nil,
			&newest.Seq, &newest.ID, &newest.Hash, store.Time(&newest.Saved))
		if found {
			m.Newest, m.Runs = &newest, newest.Seq
		}
		if err == nil {
			err = tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM run_start`).Scan(&m.Starts)
		}
		if err == nil && also != nil {
			err = also(tx)
		}
		return err
	})
}

// check reads everything back and looks at the copy.
func (w work) check(ctx context.Context, copied string, m *Manifest) (err error) {
	m.Checked = Quick
	var faults []string
	if w.Check != nil {
		m.Checked = Full
		faults, err = w.Check(ctx, copied, func(done float64) { w.told(Pictured, done) })
	} else {
		faults, err = store.QuickCheck(ctx, copied)
	}
	if err != nil {
		return err
	}
	if len(faults) > 0 {
		const shown = 3
		more := ""
		if len(faults) > shown {
			more = fmt.Sprintf(" and %d more", len(faults)-shown)
			faults = faults[:shown]
		}
		return fmt.Errorf("%w: %s%s; padjig records check says whether the records are, else look at the disk",
			ErrUnsound, strings.Join(faults, "; "), more)
	}
	sum, n, err := sumOf(ctx, copied)
	m.Files = append([]File{{store.BackupName, n, sum}}, m.Files...)
	return err
}

// name gives the backup its name.
func (w work) name(m Manifest) (string, error) {
	base := filepath.Join(w.folder, named+m.Made.Format("2006-01-02T150405Z"))
	for n := 1; ; n++ {
		path := base
		if n > 1 {
			path = fmt.Sprintf("%s-%d", base, n)
		}
		if _, err := os.Lstat(path); err == nil {
			continue
		}
		if err := os.Rename(w.temp, path); err != nil {
			return "", err
		}
		return path, store.SyncFile(w.folder)
	}
}

// prune removes the oldest backups of these records beyond those to keep, and nothing else. The newest is never
// among them. What is to be removed loses its name first, so that half of it never looks whole.
func (w work) prune(newest Found) (pruned []string, left []error) {
	if w.Keep < 1 {
		return nil, nil
	}
	all, err := List(w.folder)
	if err != nil {
		return nil, []error{err}
	}
	var own []Found
	for _, b := range all {
		if b.of(newest.Manifest) && strings.HasPrefix(filepath.Base(b.Path), named) && b.Path != newest.Path {
			own = append(own, b)
		}
	}
	for _, b := range own[:max(len(own)-(w.Keep-1), 0)] {
		if err := w.remove(b); err != nil {
			left = append(left, err)
			continue
		}
		pruned = append(pruned, b.Path)
	}
	return pruned, left
}

// remove takes away the files that the manifest names, unless there are others in the folder.
func (w work) remove(b Found) error {
	known := map[string]bool{store.ManifestName: true}
	for _, f := range b.Files {
		known[f.Name] = true
	}
	err := filepath.WalkDir(b.Path, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		below, err := filepath.Rel(b.Path, path)
		if err == nil && !known[filepath.ToSlash(below)] {
			err = fmt.Errorf("%s is kept: it holds %s, which is no part of the backup", b.Path, below)
		}
		return err
	})
	if err != nil {
		return err
	}
	going := filepath.Join(w.folder, unfinished+"old-"+filepath.Base(b.Path))
	if err := os.Rename(b.Path, going); err != nil {
		return err
	}
	return os.RemoveAll(going)
}
