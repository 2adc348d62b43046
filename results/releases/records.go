// Package releases keeps how a revision of a product comes into force: proposed by one
// person, approved by a second where it lets more through, and held against what was in
// force before. What is in force is in results/runs, which tests by it.
package releases

import (
	"context"
	"database/sql"

	"padjig/results/runs"
	"padjig/results/store"
)

// Records are what this room keeps in a store.
type Records struct {
	db   *store.DB
	runs *runs.Records
}

// On gives those of a store.
func On(db *store.DB, of *runs.Records) *Records { return &Records{db, of} }

// Codes are those of the products that were ever released.
func (s *Records) Codes(ctx context.Context) ([]string, error) {
	return store.List(ctx, s.db, "list the products that were released", func(rows *sql.Rows) (code string, err error) {
		return code, rows.Scan(&code)
	}, `SELECT DISTINCT code FROM release ORDER BY code`)
}
