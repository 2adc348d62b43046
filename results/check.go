package results

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
)

const (
	// smallFile is checked in full at each start; it takes a blink.
	smallFile     = 16 << 20
	damagedRemedy = "keep this file as it is, and go on with the last backup or a new store"
)

// startCheck is the look for damage at the start: a small file is checked in
// full, a large one quickly and only after a crash, else not at all.
func startCheck(size int64, crashed bool) string {
	switch {
	case size <= smallFile:
		return `PRAGMA integrity_check(10)`
	case crashed:
		return `PRAGMA quick_check(10)`
	}
	return ""
}

func (s *Store) checkAtStart(ctx context.Context, look string) error {
	if look == "" {
		return nil
	}
	faults, err := pragmaFaults(ctx, s.read, look)
	if err != nil || len(faults) > 0 {
		found := errors.Join(append(faultErrors(faults), err)...)
		return fmt.Errorf("%w: %w; %s", ErrDamaged, found, damagedRemedy)
	}
	return nil
}

// Check reads the whole store and tells everything wrong with it, in words;
// nothing when it is sound. It compares tables, indexes, triggers and views with
// those that the migrations make, and recomputes the hash of every run, product
// and release, so a record changed behind the store's back is found, and counts
// all sums over the runs again. A million runs take some minutes; testing may go
// on meanwhile.
func (s *Store) Check(ctx context.Context) ([]string, error) {
	var found []string
	looks := []func(context.Context, *sql.Tx) ([]string, error){
		integrity, s.schema, foreignKeys, rules, entries, revisions, releasedFiles, recountShifts}
	for _, look := range looks {
		err := s.view(ctx, func(tx *sql.Tx) error {
			faults, err := look(ctx, tx)
			found = append(found, faults...)
			return err
		})
		if err != nil {
			return found, fmt.Errorf("check store %s: %w", s.path, err)
		}
	}
	faults, err := s.recompute(ctx)
	if err != nil {
		return found, fmt.Errorf("check the runs of store %s: %w", s.path, err)
	}
	found = append(found, faults...)
	faults, err = s.recomputeCalibrations(ctx)
	if err != nil {
		return found, fmt.Errorf("check the calibrations of store %s: %w", s.path, err)
	}
	found = append(found, faults...)
	faults, err = s.checkPhotos(ctx)
	if err != nil {
		return found, fmt.Errorf("check the photos of store %s: %w", s.path, err)
	}
	return append(found, faults...), nil
}

func integrity(ctx context.Context, tx *sql.Tx) ([]string, error) {
	return pragmaFaults(ctx, tx, `PRAGMA integrity_check`)
}

func pragmaFaults(ctx context.Context, q querier, query string) ([]string, error) {
	faults, err := collect(ctx, q, scanText, query)
	if len(faults) == 1 && faults[0] == "ok" {
		return nil, err
	}
	return faults, err
}

func foreignKeys(ctx context.Context, tx *sql.Tx) ([]string, error) {
	return collect(ctx, tx, scanText, `
		SELECT "table" || ' refers to a row of ' || parent || ' that is not there'
		FROM pragma_foreign_key_check`)
}

// rules are queries that give a line of text for each breach of what the store promises.
func rules(ctx context.Context, tx *sql.Tx) ([]string, error) {
	var found []string
	for _, rule := range slices.Concat(ruleQueries, recountQueries) {
		faults, err := collect(ctx, tx, scanText, rule)
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
	`SELECT 'calibration numbers have a gap: ' || count(*) || ' calibrations up to number ' || max(seq)
	 FROM calibration HAVING count(*) <> max(seq)`,
	`SELECT 'calibration ' || seq || ' is good with a reading that is not' FROM calibration
	 WHERE good = 1 AND EXISTS (SELECT 1 FROM calibration_reading WHERE calibration = seq AND good = 0)`,
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

// recompute forms the hash of every run anew. It takes a page of runs in each
// transaction, so that the log can be emptied in between.
func (s *Store) recompute(ctx context.Context) (found []string, err error) {
	const page = 1000
	open := recounted{}
	for after := int64(0); ; {
		var seqs []int64
		err := s.view(ctx, func(tx *sql.Tx) (err error) {
			seqs, err = collect(ctx, tx, scanInt, `
				SELECT seq FROM run WHERE seq > ? ORDER BY seq LIMIT ?`, after, page)
			for _, seq := range seqs {
				rec, faults := reader{ctx, tx}.altered(seq)
				found = append(found, faults...)
				if rec == nil {
					continue
				}
				faults, err := open.add(ctx, tx, seq, rec)
				if err != nil {
					return err
				}
				found = append(found, faults...)
			}
			return err
		})
		if err != nil || len(seqs) == 0 {
			return found, err
		}
		after = seqs[len(seqs)-1]
	}
}

// recomputeCalibrations forms the hash of every calibration anew; there are few.
func (s *Store) recomputeCalibrations(ctx context.Context) (found []string, err error) {
	err = s.view(ctx, func(tx *sql.Tx) error {
		seqs, err := collect(ctx, tx, scanInt, `SELECT seq FROM calibration ORDER BY seq`)
		for _, seq := range seqs {
			rec, stored, err := reader{ctx, tx}.calibration(seq)
			if err != nil {
				found = append(found, fmt.Sprintf("calibration %d cannot be read: %v", seq, err))
				continue
			}
			if sum, err := rec.sum(); err != nil || !bytes.Equal(sum, stored) {
				found = append(found, fmt.Sprintf("calibration %d (jig %s) is not what was stored: its hash differs",
					seq, rec.Jig.Serial))
			}
		}
		return err
	})
	return found, err
}

// altered gives the run, and says so when it is not what was stored.
func (r reader) altered(seq int64) (*record, []string) {
	rec, stored, err := r.record(seq)
	if err != nil {
		return nil, []string{fmt.Sprintf("run %d cannot be read: %v", seq, err)}
	}
	sum, err := rec.sum()
	if err != nil || !bytes.Equal(sum, stored) {
		return rec, []string{fmt.Sprintf("run %d (unit %s) is not what was stored: its hash differs", seq, rec.Serial)}
	}
	return rec, nil
}

func faultErrors(faults []string) []error {
	return each(faults, func(fault string) error { return errors.New(fault) })
}
