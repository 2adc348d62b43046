package floor

import (
	"context"
	"database/sql"
	"fmt"

	"padjig/results/store"
)

// ProductChange is one change of product: from the next run on, a lane tests another one
// on its jig.
type ProductChange struct {
	Jig       string // serial number
	Simulated bool
	Before    string // code of the product until then
	Product   string // code of the product from then on
	Given     string // code of the one that the station was started with for the jig
	By        string
}

// SaveProductChange records a change of product.
func (s *Records) SaveProductChange(ctx context.Context, c ProductChange) error {
	return s.db.Save(ctx, fmt.Sprintf("save the change of product on jig %s", c.Jig), func(tx *sql.Tx) error {
		var after int64
		if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM run`).Scan(&after); err != nil {
			return err
		}
		e := store.Entry{Table: "product_change"}
		e.Set("jig", c.Jig)
		e.Set("simulated", c.Simulated)
		e.Set("before", c.Before)
		e.Set("product", c.Product)
		e.Set("given", c.Given)
		e.Set("after_run", after)
		e.Set("by", c.By)
		e.Set("at_us", s.db.Now())
		_, err := e.Insert(ctx, tx)
		return err
	})
}

// LastProductChange is the newest change of product on a jig, nil where there was none.
func (s *Records) LastProductChange(ctx context.Context, jig string, simulated bool) (*ProductChange, error) {
	return store.First(ctx, s.db, "look up what jig "+jig+" tested last", func(rows *sql.Rows) (c ProductChange, err error) {
		return c, rows.Scan(&c.Jig, &c.Simulated, &c.Before, &c.Product, &c.Given, &c.By)
	}, `SELECT jig, simulated, before, product, given, by FROM product_change
	    WHERE jig = ? AND simulated = ? ORDER BY after_run DESC, seq DESC LIMIT 1`, jig, simulated)
}

// Checks are what must hold of what is kept here.
func Checks() []store.Check { return []store.Check{store.Entries("product_change")} }
