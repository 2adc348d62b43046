package floor

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/results/store"
)

// Materials are the kinds of lot there are.
var Materials = []string{"membrane", "dome", "board", "consumables"}

// Lots are the lots in use on a jig, by material; a material that is missing is
// not known.
type Lots map[string]string

// LotChange is one changeover: from the next run on, the jig uses other lots
// for a product.
type LotChange struct {
	Seq          int64 // 0 before it is stored
	Jig, Product string
	Simulated    bool
	Lots         Lots // to store: those that change; stored: all that are in use after it
	AfterRun     int64
	By           string
	At           time.Time

	// Onto is the number of the change that whoever makes this one has seen, to store; nil
	// where nobody looked.
	Onto *int64
}

// ErrLotsChanged is of a change onto what is not so any more.
var ErrLotsChanged = errors.New("somebody changed the lots since")

// mistakes lists everything wrong with a change to be stored.
func (c LotChange) mistakes() []string {
	var out []string
	for what, missing := range map[string]bool{
		"the jig": c.Jig == "", "the product": c.Product == "", "whoever scanned it": c.By == "", "the lot": len(c.Lots) == 0,
	} {
		if missing {
			out = append(out, what+" is not named")
		}
	}
	for material, lot := range c.Lots {
		if !slices.Contains(Materials, material) {
			out = append(out, fmt.Sprintf("%q is no material: write %s", material, strings.Join(Materials, ", ")))
		}
		if lot == "" {
			out = append(out, "the lot of "+material+" is empty")
		}
	}
	return out
}

// SaveLots records a changeover; lots of other materials stay as they were.
func (s *Records) SaveLots(ctx context.Context, c LotChange) error {
	if wrong := c.mistakes(); len(wrong) > 0 {
		return fmt.Errorf("save lots: %w: %s", store.ErrRefused, strings.Join(wrong, "; "))
	}
	return s.db.Save(ctx, fmt.Sprintf("save lots of jig %s", c.Jig), func(tx *sql.Tx) error {
		var newest int64
		_, err := store.RowOf(ctx, tx, `SELECT seq FROM lot_change WHERE jig = ? AND product = ? AND simulated = ? ORDER BY seq DESC LIMIT 1`,
			[]any{c.Jig, c.Product, c.Simulated}, &newest)
		if err != nil || c.Onto != nil && *c.Onto != newest {
			return errors.Join(err, ErrLotsChanged)
		}
		return SaveLots(ctx, tx, c, s.db.Now().UnixMicro())
	})
}

// SaveLots records a changeover inside a transaction, as of a time.
func SaveLots(ctx context.Context, tx *sql.Tx, c LotChange, at int64) error {
	var lots [4]string
	_, err := store.RowOf(ctx, tx, `
		SELECT membrane, dome, board, consumables FROM lot_change
		WHERE jig = ? AND product = ? AND simulated = ? ORDER BY seq DESC LIMIT 1`,
		[]any{c.Jig, c.Product, c.Simulated}, &lots[0], &lots[1], &lots[2], &lots[3])
	if err != nil {
		return err
	}
	for i, material := range Materials {
		if lot, ok := c.Lots[material]; ok {
			lots[i] = lot
		}
	}
	_, err = tx.ExecContext(ctx, `
		INSERT INTO lot_change (seq, jig, product, simulated, membrane, dome, board, consumables, after_run, by, at_us)
		SELECT (SELECT coalesce(max(seq), 0) + 1 FROM lot_change), ?, ?, ?, ?, ?, ?, ?,
		       (SELECT coalesce(max(seq), 0) FROM run), ?, ?`,
		c.Jig, c.Product, c.Simulated, lots[0], lots[1], lots[2], lots[3], c.By, at)
	return err
}

// LotsOf gives the lots a jig uses for a product, nil when none were ever scanned.
func (s *Records) LotsOf(ctx context.Context, jig, product string, simulated bool) (*LotChange, error) {
	return store.First(ctx, s.db, "look up lots of jig "+jig, ScanLots, LotColumns+`
		WHERE jig = ? AND product = ? AND simulated = ? ORDER BY after_run DESC, seq DESC LIMIT 1`, jig, product, simulated)
}

// LotHistory gives the last n changeovers of a jig and a product, newest first.
func (s *Records) LotHistory(ctx context.Context, jig, product string, simulated bool, n int) ([]LotChange, error) {
	return store.List(ctx, s.db, "look up lots of jig "+jig, ScanLots, LotColumns+`
		WHERE jig = ? AND product = ? AND simulated = ? ORDER BY after_run DESC, seq DESC LIMIT ?`, jig, product, simulated, n)
}

// LotColumns and ScanLots read changeovers.
const LotColumns = `SELECT seq, jig, product, simulated, membrane, dome, board, consumables, after_run, by, at_us
	FROM lot_change `

// ScanLots reads a row of LotColumns.
func ScanLots(rows *sql.Rows) (c LotChange, err error) {
	var lots [4]string
	err = rows.Scan(&c.Seq, &c.Jig, &c.Product, &c.Simulated, &lots[0], &lots[1], &lots[2], &lots[3],
		&c.AfterRun, &c.By, store.Time(&c.At))
	c.Lots = Lots{}
	for i, lot := range lots {
		if lot != "" {
			c.Lots[Materials[i]] = lot
		}
	}
	return c, err
}

// LotNames gives the lots in use after each changeover, in words, by its number.
func (s *Records) LotNames(ctx context.Context) (map[int64]string, error) {
	changes, err := store.List(ctx, s.db, "look up lots", ScanLots, LotColumns)
	names := map[int64]string{}
	for _, c := range changes {
		names[c.Seq] = c.Lots.String()
	}
	return names, err
}

// String names the lots that are known, in the order of [Materials].
func (l Lots) String() string {
	var names []string
	for _, material := range Materials {
		if l[material] != "" {
			names = append(names, l[material])
		}
	}
	return strings.Join(names, " ")
}

// Since says which lots are new against those of before.
func (l Lots) Since(before Lots) string {
	var parts []string
	for _, material := range Materials {
		if l[material] != before[material] {
			parts = append(parts, material+" "+l[material])
		}
	}
	return strings.Join(parts, ", ")
}
