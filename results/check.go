package results

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

const (
	// smallFile is checked in full at each start; it takes a blink.
	smallFile     = 16 << 20
	damagedRemedy = "keep this file as it is, and go on with the last backup or a new store"
)

// checkAtStart looks for damage: a small file in full, a large one quickly and
// only when the last program to use it did not close it.
func (s *Store) checkAtStart(ctx context.Context, unclean bool) error {
	look := `PRAGMA quick_check(10)`
	switch {
	case s.fileBytes() <= smallFile:
		look = `PRAGMA integrity_check(10)`
	case !unclean:
		return nil
	}
	faults, err := pragmaFaults(ctx, s.read, look)
	if err != nil || len(faults) > 0 {
		return fmt.Errorf("%w: %w; %s", ErrDamaged, errors.Join(append(faultErrors(faults), err)...), damagedRemedy)
	}
	return nil
}

// Check reads the whole store and tells everything wrong with it, in words;
// nothing when it is sound. It recomputes the hash of every run, so a record
// changed behind the store's back is found. It takes about a minute for a
// million runs and does not hold up testing.
func (s *Store) Check(ctx context.Context) ([]string, error) {
	s.open.RLock()
	defer s.open.RUnlock()
	if s.read == nil {
		return nil, fmt.Errorf("check store %s: %w", s.path, sql.ErrConnDone)
	}
	var found []string
	for _, look := range []func(context.Context, *sql.DB) ([]string, error){integrity, foreignKeys, rules, records} {
		faults, err := look(ctx, s.read)
		found = append(found, faults...)
		if err != nil {
			return found, fmt.Errorf("check store %s: %w", s.path, err)
		}
	}
	return found, nil
}

func integrity(ctx context.Context, db *sql.DB) ([]string, error) {
	return pragmaFaults(ctx, db, `PRAGMA integrity_check`)
}

func pragmaFaults(ctx context.Context, db *sql.DB, query string) ([]string, error) {
	faults, err := texted(ctx, db, query)
	if len(faults) == 1 && faults[0] == "ok" {
		return nil, err
	}
	return faults, err
}

func foreignKeys(ctx context.Context, db *sql.DB) ([]string, error) {
	return texted(ctx, db, `
		SELECT "table" || ' refers to a row of ' || parent || ' that is not there'
		FROM pragma_foreign_key_check`)
}

// rules are queries that give a line of text for each breach of what the store promises.
func rules(ctx context.Context, db *sql.DB) ([]string, error) {
	var found []string
	for _, rule := range ruleQueries {
		faults, err := texted(ctx, db, rule)
		if err != nil {
			return found, err
		}
		found = append(found, faults...)
	}
	return found, nil
}

var ruleQueries = []string{
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

// records recomputes the hash of every run, a page of them in one transaction,
// so that the log can be emptied meanwhile.
func records(ctx context.Context, db *sql.DB) ([]string, error) {
	const page = 1000
	var found []string
	for after := int64(0); ; {
		seqs, faults, err := recordPage(ctx, db, after, page)
		found = append(found, faults...)
		if err != nil || len(seqs) == 0 {
			return found, err
		}
		after = seqs[len(seqs)-1]
	}
}

func recordPage(ctx context.Context, db *sql.DB, after, size int64) (seqs []int64, found []string, err error) {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return nil, nil, err
	}
	defer tx.Rollback()
	seqs, err = collect(ctx, tx, scanInt, `SELECT seq FROM run WHERE seq > ? ORDER BY seq LIMIT ?`, after, size)
	for _, seq := range seqs {
		fault, err := reader{ctx, tx}.recompute(seq)
		if err != nil {
			return nil, found, err
		}
		if fault != "" {
			found = append(found, fault)
		}
	}
	return seqs, found, err
}

func (r reader) recompute(seq int64) (fault string, err error) {
	rec, stored, err := r.record(seq)
	if err != nil {
		return fmt.Sprintf("run %d cannot be read: %v", seq, err), r.ctx.Err()
	}
	sum, err := rec.sum()
	if err == nil && string(sum) != string(stored) {
		fault = fmt.Sprintf("run %d (unit %s) is not what was stored: its hash differs", seq, rec.Serial)
	}
	return fault, err
}

func texted(ctx context.Context, db *sql.DB, query string) ([]string, error) {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var lines []string
	for rows.Next() {
		var line string
		if err := rows.Scan(&line); err != nil {
			return lines, err
		}
		lines = append(lines, line)
	}
	return lines, rows.Err()
}

func faultErrors(faults []string) []error {
	return each(faults, func(fault string) error { return errors.New(fault) })
}
