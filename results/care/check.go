package care

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"

	"padjig/results/store"
)

// rules are what the records of calibrations promise, as queries for each breach of it.
var rules = []string{
	`SELECT 'calibration numbers have a gap: ' || count(*) || ' calibrations up to number ' || max(seq)
	 FROM calibration HAVING count(*) <> max(seq)`,
	`SELECT 'calibration ' || seq || ' is good with a reading that is not' FROM calibration
	 WHERE good = 1 AND EXISTS (SELECT 1 FROM calibration_reading WHERE calibration = seq AND good = 0)`,
}

// Checks are how the records of calibrations are looked at.
func Checks() []store.Check { return []store.Check{store.Breaches(rules...)} }

// Recompute forms the hash of every calibration anew; there are few.
func Recompute(ctx context.Context, tx *sql.Tx) (found []string, err error) {
	seqs, err := store.Collect(ctx, tx, store.ScanInt, `SELECT seq FROM calibration ORDER BY seq`)
	for _, seq := range seqs {
		rec, stored, err := calibrationIn(ctx, tx, seq)
		if err != nil {
			found = append(found, fmt.Sprintf("calibration %d cannot be read: %v", seq, err))
			continue
		}
		if sum, err := rec.sum(); err != nil || !bytes.Equal(sum, stored) {
			found = append(found, fmt.Sprintf("calibration %d (jig %s) is not what was stored: its hash differs",
				seq, rec.Jig.Serial))
		}
	}
	return found, err
}
