package releases

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"padjig/results/store"
)

// Draft is a product file that somebody works on. It is no record: nothing is in force by
// it, and it is replaced as its writer goes on. Each has their own of a product.
type Draft struct {
	Code, By string
	Version  int64 // rises with every change
	Source   string
	At       time.Time
}

// ErrDraftChanged is of a draft that was changed elsewhere since it was read: in another
// window of the same person.
var ErrDraftChanged = errors.New("the draft was changed elsewhere since")

// KeepDraft keeps a draft in place of the version it was made of, 0 for none.
func (s *Records) KeepDraft(ctx context.Context, d Draft) (Draft, error) {
	err := s.db.Save(ctx, "keep a draft of "+d.Code, func(tx *sql.Tx) error {
		var version int64
		var source string
		if _, err := store.RowOf(ctx, tx, `SELECT version, source FROM draft WHERE code = ? AND by = ?`, []any{d.Code, d.By},
			&version, &source); err != nil {
			return err
		}
		if version > 0 && source == d.Source {
			d.Version = version // whoever wrote it, it is this
			return nil
		}
		if version != d.Version {
			return ErrDraftChanged
		}
		d.Version++
		d.At = s.db.Now()
		_, err := tx.ExecContext(ctx, `INSERT OR REPLACE INTO draft (code, by, version, source, at_us) VALUES (?, ?, ?, ?, ?)`,
			d.Code, d.By, d.Version, store.Text(d.Source), d.At.UnixMicro())
		return err
	})
	return d, err
}

// DropDraft forgets a draft: what came of it is in the records.
func (s *Records) DropDraft(ctx context.Context, code, by string) error {
	return s.db.Insert(ctx, "that a draft is done with", `DELETE FROM draft WHERE code = ? AND by = ?`, code, by)
}

// Drafts gives the drafts there are, of one product or of all, the newest first.
func (s *Records) Drafts(ctx context.Context, code string) ([]Draft, error) {
	return store.List(ctx, s.db, "list drafts", func(rows *sql.Rows) (d Draft, err error) {
		return d, rows.Scan(&d.Code, &d.By, &d.Version, &d.Source, store.Time(&d.At))
	}, `SELECT code, by, version, source, at_us FROM draft WHERE ?1 IN ('', code) ORDER BY at_us DESC, code, by`, code)
}

// Products gives the codes of all products that were ever released, proposed or drafted.
func (s *Records) Products(ctx context.Context) ([]string, error) {
	return store.List(ctx, s.db, "list the products", store.ScanText,
		`SELECT code FROM release UNION SELECT code FROM release_proposal UNION SELECT code FROM draft ORDER BY 1`)
}
