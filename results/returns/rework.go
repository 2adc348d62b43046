package returns

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"padjig/results/runs"
	"padjig/results/store"
)

// Rework is what somebody did to a unit after it was made.
type Rework struct {
	Serial   string
	Case     int64 // number of the returns case, 0 when it was not for one
	AfterRun int64 // number of the newest run at that time, set by the store
	What     string
	Place    string // key or line; empty: the whole unit
	Note     string
	By       string
	Done     time.Time
}

// SaveRework records what was done to a unit.
func (s *Records) SaveRework(ctx context.Context, r Rework) error {
	_, err := s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) {
		newest, err := runs.NewestSeq(ctx, tx)
		e := store.Entry{Table: "rework"}
		e.Set("serial", r.Serial)
		if r.Case > 0 {
			e.Set("return_case", r.Case)
		} else {
			e.Set("return_case", nil)
		}
		e.Set("after_run", newest)
		e.Set("what", r.What)
		e.Set("place", r.Place)
		e.Set("note", r.Note)
		e.Set("by", r.By)
		e.Set("done_us", r.Done)
		e.Set("at_us", s.db.Now())
		return []store.Entry{e}, err
	})
	if err != nil {
		return fmt.Errorf("save the rework of unit %q in %s: %w", r.Serial, s.db.Path(), store.Remedy(err))
	}
	return nil
}

// Reworks gives what was done to a unit, oldest first.
func (s *Records) Reworks(ctx context.Context, serial string) (list []Rework, err error) {
	scan := func(rows *sql.Rows) (r Rework, err error) {
		return r, rows.Scan(&r.Serial, &r.Case, &r.AfterRun, &r.What, &r.Place, &r.Note, &r.By, store.Time(&r.Done))
	}
	return store.List(ctx, s.db, fmt.Sprintf("look up the rework of unit %q", serial), scan, `
		SELECT serial, coalesce(return_case, 0), after_run, what, place, note, by, done_us
		FROM rework WHERE serial = ? ORDER BY seq`, serial)
}
