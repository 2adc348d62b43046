package runs

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"padjig/results/store"
	"padjig/sequence/product"
)

// Product gives back the product that a run was made of, from its stored definition:
// its file may have changed since, or be gone.
func (s *Records) Product(ctx context.Context, run Stored) (*product.Product, error) {
	var title, definition string
	err := s.db.Ask(ctx, fmt.Sprintf("look up revision %s of %s", run.Revision, run.Run.Product), func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, `
			SELECT title, definition FROM revision WHERE hash = ? AND label = ? LIMIT 1`, run.Hash, run.Revision,
		).Scan(&title, &definition)
		if errors.Is(err, sql.ErrNoRows) {
			return store.ErrNotFound
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return product.Restore([]byte(definition), title, run.Revision)
}
