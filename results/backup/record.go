package backup

import (
	"context"
	"database/sql"
	"path/filepath"
	"time"

	"padjig/results/store"
)

// Records keep when backups were taken of them, and what they were restored from.
type Records struct{ db *store.DB }

// On gives those of a store.
func On(db *store.DB) *Records { return &Records{db} }

// Deed is a backup that was taken or failed, or a restore.
type Deed struct {
	Restore   bool
	Folder    string // with the backups in it; of a restore the backup itself
	Name      string // of the backup in it; empty: none came about
	Why       string // it failed; empty: it is whole
	Checked   Depth
	Scheduled bool
	Runs      int64 // number of the newest run in it
	Bytes     int64
	Began, At time.Time
}

// Outcome is what came of an order.
func Outcome(o Order, began time.Time, t Taken, err error) Deed {
	d := Deed{Folder: o.Folder, Scheduled: o.Scheduled, Began: began}
	if full, err := filepath.Abs(o.Folder); err == nil {
		d.Folder = full
	}
	if err != nil {
		d.Why = err.Error()
		return d
	}
	d.Name, d.Checked, d.Runs, d.Bytes = filepath.Base(t.Path), t.Checked, t.Runs, t.Bytes()
	return d
}

// Note adds a deed, which ended now.
func (r *Records) Note(ctx context.Context, d Deed) error {
	e := store.Entry{Table: "backup"}
	deed, outcome := "backup", "whole"
	if d.Restore {
		deed = "restore"
	}
	if d.Why != "" {
		outcome = "failed"
	}
	e.Set("deed", deed)
	e.Set("folder", d.Folder)
	e.Set("name", d.Name)
	e.Set("outcome", outcome)
	e.Set("why", d.Why)
	e.Set("checked", string(d.Checked))
	e.Set("scheduled", d.Scheduled)
	e.Set("runs", d.Runs)
	e.Set("bytes", d.Bytes)
	e.Set("software", store.Software())
	e.Set("host", store.ThisStation().Host)
	e.Set("began_us", d.Began)
	e.Set("at_us", r.db.Now())
	_, err := r.db.Append(ctx, func(*sql.Tx) ([]store.Entry, error) { return []store.Entry{e}, nil })
	return err
}

// Newest are the newest backup that is whole and one that failed after it, the newest of a station's
// schedule before those that somebody took; each nil where there is none.
func (r *Records) Newest(ctx context.Context) (whole, failed *Deed, err error) {
	all, err := store.List(ctx, r.db, "look up backups", scanDeed, deeds+`
		WHERE deed = 'backup' AND seq >= coalesce((SELECT max(seq) FROM backup WHERE deed = 'backup' AND outcome = 'whole'), 0)
		ORDER BY seq`)
	for _, d := range all {
		switch {
		case d.Why == "":
			whole = &d
		case failed == nil || d.Scheduled || !failed.Scheduled:
			failed = &d
		}
	}
	return whole, failed, err
}

const deeds = `SELECT deed = 'restore', folder, name, why, checked, scheduled, runs, bytes, began_us, at_us FROM backup `

func scanDeed(rows *sql.Rows) (d Deed, err error) {
	return d, rows.Scan(&d.Restore, &d.Folder, &d.Name, &d.Why, &d.Checked, &d.Scheduled, &d.Runs, &d.Bytes,
		store.Time(&d.Began), store.Time(&d.At))
}

// Checks are how the records of backups are looked at.
func Checks() []store.Check { return []store.Check{store.Entries("backup")} }
