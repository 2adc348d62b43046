package runs

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"

	"padjig/results/store"
)

// Checks are how the records of runs, revisions and releases are looked at; their
// hashes take [Records.Recompute].
func Checks() []store.Check {
	return []store.Check{store.Breaches(rules...), store.Entries("run_start", "run_unfinished", "asked"), revisions, releasedFiles}
}

// rules are what the records of runs promise, as queries for each breach of it.
var rules = []string{
	`SELECT 'run numbers have a gap: ' || count(*) || ' runs up to number ' || max(seq)
	 FROM run HAVING count(*) <> max(seq)`,
	`SELECT 'run ' || seq || ' has an id that is not after the one before'
	 FROM (SELECT seq, id, lag(id) OVER (ORDER BY seq) AS previous FROM run) WHERE id <= previous`,
	parts("step"), parts("seat"), parts("key"), parts("pair"), parts("finding"),
	`SELECT 'run ' || seq || ' passed with a finding' FROM run WHERE outcome = 'pass' AND findings > 0`,
	`SELECT 'run ' || seq || ' passed without a key' FROM run WHERE outcome = 'pass' AND keys = 0`,
	`SELECT 'run ' || seq || ' passed with a key that did not' FROM run
	 WHERE outcome = 'pass' AND EXISTS (SELECT 1 FROM run_key WHERE run = seq AND passed IS NOT 1)`,
	`SELECT 'run ' || seq || ' passed with a step left out' FROM run
	 WHERE outcome = 'pass' AND EXISTS (SELECT 1 FROM run_step WHERE run = seq AND done = 0)`,
	`SELECT 'run ' || seq || ' passed without what a pass has to prove' FROM run
	 WHERE outcome = 'pass' AND json_array_length(proofs, '$.missing') > 0`,
	`SELECT 'run ' || seq || ' has ' || count(run_insulation.run) || ' rows in run_insulation and should have ' || insulation
	 FROM run LEFT JOIN run_insulation ON run_insulation.run = seq GROUP BY seq HAVING count(run_insulation.run) <> insulation`,
	`SELECT 'run ' || seq || ' has ' || count(run_exercise.run) || ' rows in run_exercise and should have ' || exercised
	 FROM run LEFT JOIN run_exercise ON run_exercise.run = seq GROUP BY seq HAVING count(run_exercise.run) <> exercised`,
	`SELECT 'run ' || run.seq || ' is of the returns case of another unit'
	 FROM run JOIN return_case ON return_case.seq = run.return_case WHERE return_case.serial <> run.serial`,
	`SELECT 'run ' || seq || ' failed without a finding' FROM run WHERE outcome = 'fail' AND findings = 0`,
}

// parts asks for runs whose rows of one kind are not as many as the run says.
func parts(kind string) string {
	return fmt.Sprintf(`
		SELECT 'run ' || seq || ' has ' || count(run_%[1]s.run) || ' rows in run_%[1]s and should have ' || %[1]ss
		FROM run LEFT JOIN run_%[1]s ON run_%[1]s.run = seq
		GROUP BY seq HAVING count(run_%[1]s.run) <> %[1]ss
		    OR max(coalesce(run_%[1]s.place, -1)) <> %[1]ss - 1`, kind)
}

// Kept is a run as it is stored.
type Kept struct {
	Seq int64
	*Record
	kept []byte // the hash stored with it
}

// Recompute reads the runs of these numbers, first and last among them, forms their hashes anew and says which are
// not what was stored.
func (s *Records) Recompute(ctx context.Context, from, to int64) (all []Kept, found []string, err error) {
	err = s.db.View(ctx, func(tx *sql.Tx) error {
		r := Reader{ctx, tx}
		seqs, err := store.Collect(ctx, tx, store.ScanInt, `SELECT seq FROM run WHERE seq BETWEEN ? AND ? ORDER BY seq`, from, to)
		if err != nil {
			return err
		}
		all, err = r.Records(from, to)
		if err != nil || len(all) < len(seqs) {
			all, found = r.oneByOne(seqs)
		}
		return ctx.Err()
	})
	for _, k := range all {
		sum, err := k.sum()
		if err != nil || !bytes.Equal(sum, k.kept) {
			found = append(found, fmt.Sprintf("run %d (unit %s) is not what was stored: its hash differs", k.Seq, k.Serial))
		}
	}
	return all, found, err
}

// oneByOne reads runs where one of them cannot be read, and says which.
func (r Reader) oneByOne(seqs []int64) (all []Kept, found []string) {
	for _, seq := range seqs {
		rec, hash, err := r.Record(seq)
		if err != nil {
			found = append(found, fmt.Sprintf("run %d cannot be read: %v", seq, err))
			continue
		}
		all = append(all, Kept{seq, rec, hash})
	}
	return all, found
}
