// Package listing gives the runs of a store one page after another, in the order they were
// stored: whoever asks for what comes after the last one they have misses none, whatever is
// tested meanwhile.
package listing

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"padjig/results/store"
	"padjig/sequence"
)

// Records are the runs of a store.
type Records struct{ db *store.DB }

// On gives those of a store.
func On(db *store.DB) *Records { return &Records{db} }

// Filter says which runs; what is empty leaves all.
type Filter struct {
	Product, Jig string // code, serial number
	Verdict      sequence.Outcome
	From, To     time.Time // when they were started; To is not in it
	After        store.ID  // of the run before the first
}

// Run is a run in a list.
type Run struct {
	Seq               int64
	ID                store.ID
	Serial            string
	Product, Revision string
	Outcome           sequence.Outcome
	Simulated         bool
	Started           time.Time
	Duration          time.Duration
	Jig               string
	Actuation         sequence.Actuation
	Purpose           sequence.Purpose
	Attempt, Findings int
	Hash              string // SHA-256 of its record, hexadecimal
}

// Page gives at most so many runs and whether there are more behind them. What After names
// has to be there: nobody shall begin anew unawares. [store.ErrNotFound] says that it is not.
func (s *Records) Page(ctx context.Context, f Filter, most int) (page []Run, more bool, err error) {
	err = s.db.Ask(ctx, "list runs", func(tx *sql.Tx) error {
		var after int64
		if !f.After.IsZero() {
			err := tx.QueryRowContext(ctx, `SELECT seq FROM run WHERE id = ?`, f.After).Scan(&after)
			if errors.Is(err, sql.ErrNoRows) {
				return store.ErrNotFound
			}
			if err != nil {
				return err
			}
		}
		query, args := `
			SELECT seq, id, run.serial, code, label, verdict, simulated, started_us, duration_us, jig.serial, actuation, purpose, attempt,
			       findings, run.hash
			FROM run JOIN revision USING (revision) JOIN jig USING (jig) WHERE seq > ?`, []any{after}
		for _, one := range []struct {
			said  bool
			where string
			is    any
		}{
			{f.Product != "", `code = ?`, f.Product}, {f.Jig != "", `jig.serial = ?`, f.Jig}, {f.Verdict != "", `verdict = ?`, f.Verdict},
			{!f.From.IsZero(), `started_us >= ?`, f.From.UnixMicro()}, {!f.To.IsZero(), `started_us < ?`, f.To.UnixMicro()},
		} {
			if one.said {
				query, args = query+" AND "+one.where, append(args, one.is)
			}
		}
		page, err = store.Collect(ctx, tx, scan, query+` ORDER BY seq LIMIT ?`, append(args, most+1)...)
		return err
	})
	if len(page) > most {
		page, more = page[:most], true
	}
	return page, more, err
}

func scan(rows *sql.Rows) (r Run, err error) {
	var took int64
	var hash []byte
	err = rows.Scan(&r.Seq, &r.ID, &r.Serial, &r.Product, &r.Revision, &r.Outcome, &r.Simulated, store.Time(&r.Started), &took, &r.Jig,
		&r.Actuation, &r.Purpose, &r.Attempt, &r.Findings, &hash)
	r.Duration, r.Hash = store.FromMicro(took), hex.EncodeToString(hash)
	return r, err
}

// Hash is the hash stored with a run.
func (s *Records) Hash(ctx context.Context, run int64) (hash string, err error) {
	var stored []byte
	err = s.db.Ask(ctx, fmt.Sprintf("look up the hash of run %d", run), func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, `SELECT hash FROM run WHERE seq = ?`, run).Scan(&stored)
	})
	return hex.EncodeToString(stored), err
}

// Since visits runs stored after the run of a number, and gives the number of the last.
func (s *Records) Since(ctx context.Context, after int64, take func(Run)) (last int64, err error) {
	last = after
	err = s.db.Ask(ctx, "count runs", func(tx *sql.Tx) error {
		return store.Visit(ctx, tx, func(rows *sql.Rows) error {
			var r Run
			var took int64
			err := rows.Scan(&r.Seq, &r.Product, &r.Outcome, &r.Simulated, &took)
			if err != nil {
				return err
			}
			r.Duration, last = store.FromMicro(took), r.Seq
			take(r)
			return nil
		}, `SELECT seq, code, verdict, simulated, duration_us FROM run JOIN revision USING (revision) WHERE seq > ? ORDER BY seq`, after)
	})
	return last, err
}

// Tried is how many sign-ins there were by what came of them.
func (s *Records) Tried(ctx context.Context) (map[string]int64, error) {
	tried := map[string]int64{}
	err := s.db.Ask(ctx, "count sign-ins", func(tx *sql.Tx) error {
		return store.Visit(ctx, tx, func(rows *sql.Rows) error {
			var outcome string
			var n int64
			err := rows.Scan(&outcome, &n)
			tried[outcome] = n
			return err
		}, `SELECT outcome, count(*) FROM sign_in GROUP BY outcome`)
	})
	return tried, err
}
