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
	FromSerial        string // of the first unit that may be tested by it; empty: every unit may
	Approved          string // by whom, where it lets more through; empty: nobody had to, or it is of before
	Proposal          int64  // its number; 0 for one of before, or of the plant
	Notice            int64  // of the plant that it came with; 0: it was released here
	Seq               int64
	AfterRun          int64 // number of the newest run at that time
	At                time.Time
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

// Releases gives the releases of a product, newest first: the first one holds.
func (s *Records) Releases(ctx context.Context, code string) ([]Release, error) {
	return store.List(ctx, s.db, fmt.Sprintf("list the releases of %s", code), scanRelease, releaseColumns+`
		WHERE release.code = ? ORDER BY release.after_run DESC, release.seq DESC`, code)
}

// ReleasesIn gives the releases of all products, oldest first, in a transaction.
func ReleasesIn(ctx context.Context, tx *sql.Tx) ([]Release, error) {
	return store.Collect(ctx, tx, scanRelease, releaseColumns+` ORDER BY release.after_run, release.seq`)
}

const releaseColumns = `
	SELECT release.seq, release.code, release.label, release.hash, release.kind = 'back', release.source, release.by,
	       release.reason, coalesce(asked.from_serial, release.from_serial), coalesce(approval.by, release.approved),
	       coalesce(release.proposal, 0), coalesce(release.notice, 0), release.after_run, release.at_us
	FROM release LEFT JOIN release_proposal AS asked ON asked.seq = release.proposal
	LEFT JOIN release_approval AS approval ON approval.proposal = release.proposal`

func scanRelease(rows *sql.Rows) (r Release, err error) {
	return r, rows.Scan(&r.Seq, &r.Code, &r.Label, &r.Hash, &r.Back, &r.Source, &r.By, &r.Reason, &r.FromSerial, &r.Approved,
		&r.Proposal, &r.Notice, &r.AfterRun, store.Time(&r.At))
}

// Holding gives the release that a unit is tested by, of those of a product, newest
// first: the newest one, unless it lets more through from a later serial number on.
// Nil where there is none. Of numbers whose order nobody knows all may.
func Holding(list []Release, p *product.Product, serial string) *Release {
	for i, r := range list {
		if r.FromSerial == "" {
			return &list[i]
		}
		if earlier, known := p.Serial.Earlier(serial, r.FromSerial); !known || !earlier {
			return &list[i]
		}
	}
	return nil
}
