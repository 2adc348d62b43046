package results

import (
	"context"
	"database/sql"
	"fmt"
	"time"
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
func (s *Store) SaveRework(ctx context.Context, r Rework) error {
	_, err := s.add(ctx, func(tx *sql.Tx) ([]entry, error) {
		newest, err := newestSeq(ctx, tx)
		e := entry{table: "rework"}
		e.set("serial", r.Serial)
		if r.Case > 0 {
			e.set("return_case", r.Case)
		} else {
			e.set("return_case", nil)
		}
		e.set("after_run", newest)
		e.set("what", r.What)
		e.set("place", r.Place)
		e.set("note", r.Note)
		e.set("by", r.By)
		e.set("done_us", r.Done)
		e.set("at_us", s.seams.now())
		return []entry{e}, err
	})
	if err != nil {
		return fmt.Errorf("save the rework of unit %q in %s: %w", r.Serial, s.path, remedy(err))
	}
	return nil
}

// Reworks gives what was done to a unit, oldest first.
func (s *Store) Reworks(ctx context.Context, serial string) (list []Rework, err error) {
	scan := func(rows *sql.Rows) (r Rework, err error) {
		var done int64
		err = rows.Scan(&r.Serial, &r.Case, &r.AfterRun, &r.What, &r.Place, &r.Note, &r.By, &done)
		r.Done = time.UnixMicro(done).UTC()
		return r, err
	}
	err = s.view(ctx, func(tx *sql.Tx) (err error) {
		list, err = collect(ctx, tx, scan, `
			SELECT serial, coalesce(return_case, 0), after_run, what, place, note, by, done_us
			FROM rework WHERE serial = ? ORDER BY seq`, serial)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("look up the rework of unit %q in %s: %w", serial, s.path, err)
	}
	return list, nil
}
