package notices

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"padjig/results/plant/notice"
	"padjig/results/store"
)

// contact is what was heard of the plant last.
type contact struct {
	head    *notice.Head // nil before any was heard
	heard   time.Time    // a newer head, by the clock of this computer; zero: never
	stale   time.Duration
	trouble *notice.Mistake
	since   time.Time
}

func contactIn(ctx context.Context, tx *sql.Tx) (*contact, error) {
	var c contact
	var h notice.Head
	var m notice.Mistake
	var top []byte
	var products string
	var heard, stale, since int64
	found, err := store.RowOf(ctx, tx, `
		SELECT count, top, products, issued_us, signature, heard_us, stale_us, trouble, number, why, trouble_us FROM plant_contact`, nil,
		&h.Count, &top, &products, store.Time(&h.Issued), &h.Signature, &heard, &stale, &m.Code, &m.Number, &m.Why, &since)
	if err != nil || !found {
		return nil, err
	}
	if err := json.Unmarshal([]byte(products), &h.Products); err != nil {
		return nil, fmt.Errorf("what was heard of the plant last: %w", err)
	}
	c.stale = time.Duration(stale) * time.Microsecond
	if h.Hash = hashOf(top); h.Count > 0 {
		c.head, c.heard = &h, time.UnixMicro(heard)
	}
	if m.Code != "" {
		c.trouble, c.since = &m, time.UnixMicro(since)
	}
	return &c, nil
}

// save puts the contact in the place of the one before.
func (c contact) save(ctx context.Context, tx *sql.Tx) error {
	h, m, times := notice.Head{Products: map[string]int64{}, Signature: []byte{}}, notice.Mistake{}, [3]int64{}
	if c.head != nil {
		h, times[0], times[1] = *c.head, c.head.Issued.UnixMicro(), c.heard.UnixMicro()
	}
	if c.trouble != nil {
		m, times[2] = *c.trouble, c.since.UnixMicro()
	}
	products, err := notice.Canonical(h.Products)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `
		INSERT OR REPLACE INTO plant_contact (one, count, top, products, issued_us, signature, heard_us, stale_us, trouble, number, why, trouble_us)
		VALUES (1, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		h.Count, h.Hash[:], string(products), times[0], h.Signature, times[1], c.stale.Microseconds(), string(m.Code), m.Number, store.Text(m.Why), times[2])
	return err
}

// Standing is how a station stands to its plant.
type Standing struct {
	Taken   int64           // notices
	Head    *notice.Head    // the newest that is believed, nil for none
	Heard   time.Time       // a newer head, by the clock of this computer; zero: never
	Stale   time.Duration   // for so long nothing need be heard before it is said
	Trouble *notice.Mistake // what is not believed, nil for nothing
	Since   time.Time       // of the trouble
	Waiting []string        // names of the plant's accounts that wait, since accounts made here have those names
}

// Silent is for how long nothing newer was heard; Over reports whether that is to be said. A
// clock that was put back makes nothing old.
func (s Standing) Silent(now time.Time) (for_ time.Duration, over bool) {
	if s.Heard.IsZero() {
		return 0, true
	}
	for_ = max(now.Sub(s.Heard), 0)
	return for_, for_ > s.Stale
}

// Standing gives how these records stand to a plant, nil where they never had to do with one, or are its office's.
func (s *Records) Standing(ctx context.Context) (st *Standing, err error) {
	err = s.db.Ask(ctx, "look up what was heard of the plant", func(tx *sql.Tx) error {
		if st, err = standing(ctx, tx); err != nil || st == nil {
			return err
		}
		st.Waiting, err = store.Collect(ctx, tx, store.ScanText, `SELECT DISTINCT subject `+owed+` ORDER BY subject`)
		return err
	})
	return st, err
}

func standing(ctx context.Context, tx *sql.Tx) (*Standing, error) {
	c, err := contactIn(ctx, tx)
	if err != nil || c == nil {
		return nil, err
	}
	st := &Standing{Head: c.head, Heard: c.heard, Stale: c.stale, Trouble: c.trouble, Since: c.since}
	var issues bool
	if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0), `+office+` FROM notice`).Scan(&st.Taken, &issues); err != nil || issues {
		return nil, err
	}
	return st, nil
}

// office is whether the records issue notices: their first one says so.
const office = `EXISTS (SELECT 1 FROM notice WHERE seq = 1 AND source <> '')`

// owed are the notices of accounts that wait.
const owed = `FROM notice WHERE kind = 'account' AND source = '' AND seq NOT IN (SELECT notice FROM notice_effect)`
