package store

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

func checkAtStart(ctx context.Context, read querier, look string) error {
	if look == "" {
		return nil
	}
	faults, err := pragmaFaults(ctx, read, look)
	if err != nil || len(faults) > 0 {
		found := errors.Join(append(faultErrors(faults), err)...)
		return fmt.Errorf("%w: %w; %s", ErrDamaged, found, damagedRemedy)
	}
	return nil
}

// Check looks at a store for what is wrong with it, and says it in words.
type Check func(ctx context.Context, tx *sql.Tx) ([]string, error)

// Check takes one look after another, each at an unchanging state of the store.
func (s *DB) Check(ctx context.Context, checks ...Check) (found []string, err error) {
	for _, check := range checks {
		err := s.View(ctx, func(tx *sql.Tx) error {
			faults, err := check(ctx, tx)
			found = append(found, faults...)
			return err
		})
		if err != nil {
			return found, err
		}
	}
	return found, nil
}

// Breaches is the look by queries that give a line of text for each breach of
// what the store promises.
func Breaches(queries ...string) Check {
	return func(ctx context.Context, tx *sql.Tx) (found []string, err error) {
		for _, query := range queries {
			faults, err := Collect(ctx, tx, ScanText, query)
			if err != nil {
				return found, err
			}
			found = append(found, faults...)
		}
		return found, nil
	}
}

// Integrity is SQLite's own look at the whole file.
func Integrity(ctx context.Context, tx *sql.Tx) ([]string, error) {
	return pragmaFaults(ctx, tx, `PRAGMA integrity_check`)
}

// Quick is SQLite's shorter look.
func Quick(ctx context.Context, tx *sql.Tx) ([]string, error) {
	return pragmaFaults(ctx, tx, `PRAGMA quick_check`)
}

func pragmaFaults(ctx context.Context, q querier, query string) ([]string, error) {
	faults, err := Collect(ctx, q, ScanText, query)
	if len(faults) == 1 && faults[0] == "ok" {
		return nil, err
	}
	return faults, err
}

// ForeignKeys looks for rows that refer to others that are not there.
func ForeignKeys(ctx context.Context, tx *sql.Tx) ([]string, error) {
	return Collect(ctx, tx, ScanText, `
		SELECT "table" || ' refers to a row of ' || parent || ' that is not there'
		FROM pragma_foreign_key_check`)
}

func faultErrors(faults []string) []error {
	return Each(faults, func(fault string) error { return errors.New(fault) })
}
