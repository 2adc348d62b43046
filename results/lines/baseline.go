package lines

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"padjig/results/store"
)

// Baseline is a set of control limits that was frozen: computed once from runs
// held to be normal, by somebody, for a reason. The newest one of a subject is
// in force; older ones stay.
type Baseline struct {
	Seq       int64
	Subject   string // what is charted and how
	Selection string // the runs it was computed from, as a [Filter] writes it
	Points    int
	Limits    []byte // a JSON object
	Simulated bool
	AfterRun  int64
	By        string
	Reason    string
	At        time.Time
}

// SaveBaseline freezes limits.
func (s *Records) SaveBaseline(ctx context.Context, b Baseline) error {
	if b.By == "" || b.Reason == "" {
		return fmt.Errorf("save baseline of %s: %w: it needs a name and a reason", b.Subject, store.ErrRefused)
	}
	return s.db.Insert(ctx, "baseline of "+b.Subject, `
		INSERT INTO baseline (seq, subject, selection, points, limits, simulated, after_run, by, reason, at_us)
		SELECT (SELECT coalesce(max(seq), 0) + 1 FROM baseline), ?, ?, ?, ?, ?,
		       (SELECT coalesce(max(seq), 0) FROM run), ?, ?, ?`,
		b.Subject, b.Selection, b.Points, string(b.Limits), b.Simulated, b.By, b.Reason, s.db.Now().UnixMicro())
}

// FrozenLimits gives the baseline in force for a subject, nil when there is none.
func (s *Records) FrozenLimits(ctx context.Context, subject string, simulated bool) (*Baseline, error) {
	return store.First(ctx, s.db, "look up the baseline of "+subject, scanBaseline, `
		SELECT seq, subject, selection, points, limits, simulated, after_run, by, reason, at_us
		FROM baseline WHERE subject = ? AND simulated = ? ORDER BY after_run DESC, seq DESC LIMIT 1`, subject, simulated)
}

// Hashes gives the definitions of the runs that a filter chooses: what frozen
// limits are limits of.
func (s *Records) Hashes(ctx context.Context, f Filter) ([]string, error) {
	var list []string
	err := s.ask(ctx, "look up the definitions", f, nil, func(tx *sql.Tx) error {
		revisions, err := chosenRevisions(ctx, tx, f)
		list = store.Each(revisions, func(r chosenRevision) string { return r.Hash })
		return err
	})
	return list, err
}

func scanBaseline(rows *sql.Rows) (b Baseline, err error) {
	return b, rows.Scan(&b.Seq, &b.Subject, &b.Selection, &b.Points, &b.Limits, &b.Simulated, &b.AfterRun, &b.By, &b.Reason, store.Time(&b.At))
}
