package care

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"

	"padjig/results/store"
)

// rules are what the records of calibrations and parts promise, as queries for each breach
// of it.
var rules = []string{
	`SELECT 'calibration numbers have a gap: ' || count(*) || ' calibrations up to number ' || max(seq)
	 FROM calibration HAVING count(*) <> max(seq)`,
	`SELECT 'calibration ' || seq || ' is good with a reading that is not' FROM calibration
	 WHERE good = 1 AND EXISTS (SELECT 1 FROM calibration_reading WHERE calibration = seq AND good = 0)`,
	`SELECT 'events of parts have a gap: ' || count(*) || ' events up to number ' || max(seq)
	 FROM wear_event HAVING count(*) <> max(seq)`,
	`SELECT 'part ' || name || ' is fitted in ' || count(*) || ' places: ' || group_concat(jig || ', ' || part, '; ') FROM wear_event AS e
	 WHERE kind = 'replaced' AND name <> '' AND NOT EXISTS (SELECT 1 FROM wear_event AS later WHERE later.jig = e.jig AND later.part = e.part
	       AND later.simulated IS e.simulated AND later.kind <> 'limits' AND later.seq > e.seq)
	 GROUP BY simulated, rtrim(part, '0123456789 '), name HAVING count(*) > 1`,
}

// Checks are how the records of calibrations and parts are looked at.
func Checks() []store.Check {
	return []store.Check{store.Breaches(rules...), store.Entries("commissioning", "commissioning_step")}
}

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
