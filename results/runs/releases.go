package runs

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"padjig/results/store"
	"padjig/sequence/product"
)

// Release says that a revision of a product holds from then on.
type Release struct {
	Code, Label, Hash string
	Back              bool   // to a revision that held before
	Source            string // the product file, whole
	By, Reason        string
	Seq               int64     // when read
	AfterRun          int64     // when read: number of the newest run at that time
	At                time.Time // when read
}

// ErrReleaseAltered is returned for a release whose text is not what its hash
// says: somebody changed it in the file of the records.
var ErrReleaseAltered = errors.New("not as it was released")

// Product reads the product file that was released, and holds it against the
// hash, code and label that are stored beside it.
func (r Release) Product() (*product.Product, error) {
	p, err := product.ParseKept(fmt.Sprintf("release %d", r.Seq), []byte(r.Source))
	if err == nil && (p.Hash() != r.Hash || p.Code != r.Code || p.Revision != r.Label) {
		err = fmt.Errorf("its text is %s %s, %.12s", p.Code, revisionNamed(p.Revision), p.Hash())
	}
	if err != nil {
		return nil, fmt.Errorf("release %d of %s %s, %.12s: %w: %w", r.Seq, r.Code, revisionNamed(r.Label), r.Hash, ErrReleaseAltered, err)
	}
	return p, nil
}

// SaveRelease records a release; name and reason must not be empty. A text that
// is not the revision it is said to be is refused, and with a *[LabelTaken] one
// whose label is known with another definition. Only a release from before, to which
// one goes back, may be written in the words of before.
func (s *Records) SaveRelease(ctx context.Context, r Release) error {
	p, err := r.Product()
	if err == nil && !r.Back {
		_, err = product.Parse(r.Code, []byte(r.Source))
	}
	if err != nil {
		return err
	}
	kind := map[bool]string{false: "release", true: "back"}[r.Back]
	return s.db.Save(ctx, fmt.Sprintf("save release of %s", r.Code), func(tx *sql.Tx) error {
		rev := Revision{Code: r.Code, Label: r.Label, Hash: r.Hash, Definition: p.Canonical()}
		if err := LabelFree(ctx, tx, rev); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `
			INSERT INTO release (seq, code, label, hash, kind, source, by, reason, after_run, at_us)
			SELECT (SELECT coalesce(max(seq), 0) + 1 FROM release), ?, ?, ?, ?, ?, ?, ?,
			       (SELECT coalesce(max(seq), 0) FROM run), ?`,
			r.Code, r.Label, r.Hash, kind, r.Source, r.By, r.Reason, s.db.Now().UnixMicro())
		return err
	})
}

// Releases gives the releases of a product, newest first: the first one holds.
func (s *Records) Releases(ctx context.Context, code string) ([]Release, error) {
	return store.List(ctx, s.db, fmt.Sprintf("list the releases of %s", code), scanRelease, `
		SELECT seq, code, label, hash, kind = 'back', source, by, reason, after_run, at_us
		FROM release WHERE code = ? ORDER BY seq DESC`, code)
}

func scanRelease(rows *sql.Rows) (r Release, err error) {
	return r, rows.Scan(&r.Seq, &r.Code, &r.Label, &r.Hash, &r.Back, &r.Source, &r.By, &r.Reason, &r.AfterRun, store.Time(&r.At))
}
