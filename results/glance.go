package results

import (
	"context"
	"database/sql"
	"fmt"

	"padjig/results/store"
)

// Glance is SQLite's shorter look at the file (PRAGMA quick_check), which finds damage but not
// whether rows and guards are those that padjig wrote: [Store.Check] does. It gives the version
// of the schema as well. It takes seconds with a million runs, and ends with ctx.
func (s *Store) Glance(ctx context.Context) (schema int64, faults []string, err error) {
	faults, err = s.db.Check(ctx, func(ctx context.Context, tx *sql.Tx) ([]string, error) {
		return nil, tx.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&schema)
	}, store.Quick)
	if err != nil {
		err = fmt.Errorf("look at store %s: %w", s.Path(), err)
	}
	return schema, faults, err
}
