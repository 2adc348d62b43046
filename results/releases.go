package results

import (
	"context"
	"database/sql"
	"fmt"
	"time"
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

// SaveRelease records a release; name and reason must not be empty.
func (s *Store) SaveRelease(ctx context.Context, r Release) error {
	kind := map[bool]string{false: "release", true: "back"}[r.Back]
	return s.append(ctx, "release of "+r.Code, `
		INSERT INTO release (seq, code, label, hash, kind, source, by, reason, after_run, at_us)
		SELECT (SELECT coalesce(max(seq), 0) + 1 FROM release), ?, ?, ?, ?, ?, ?, ?,
		       (SELECT coalesce(max(seq), 0) FROM run), ?`,
		r.Code, r.Label, r.Hash, kind, r.Source, r.By, r.Reason, s.seams.now().UnixMicro())
}

// Releases gives the releases of a product, newest first: the first one holds.
func (s *Store) Releases(ctx context.Context, code string) ([]Release, error) {
	var list []Release
	err := s.view(ctx, func(tx *sql.Tx) (err error) {
		list, err = collect(ctx, tx, scanRelease, `
			SELECT seq, code, label, hash, kind = 'back', source, by, reason, after_run, at_us
			FROM release WHERE code = ? ORDER BY seq DESC`, code)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("list the releases of %s in %s: %w", code, s.path, err)
	}
	return list, nil
}

func scanRelease(rows *sql.Rows) (r Release, err error) {
	var at int64
	err = rows.Scan(&r.Seq, &r.Code, &r.Label, &r.Hash, &r.Back, &r.Source, &r.By, &r.Reason, &r.AfterRun, &at)
	r.At = time.UnixMicro(at).UTC()
	return r, err
}
