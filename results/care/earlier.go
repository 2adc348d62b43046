package care

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"

	"padjig/results/floor"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence/diagnose/pattern"
	"padjig/sequence/diagnose/readings"
)

// How many units before are looked at, on the jig and on all others, and among how many
// runs: few here, since a part of a jig begins to fail some day, and enough elsewhere to
// know how often a good jig sees it (common practice, no source).
const (
	unitsHere      = 12
	unitsElsewhere = 240
	runsBack       = 2000
)

// earlierRun is a run before.
type earlierRun struct {
	seq         int64
	serial, jig string
}

// Earlier counts what the units before a run failed with, key by key and pin by pin: on
// its jig, and on all others with those of the same lots of material as far as its own are
// known. A unit counts once on each side, and neither reference units nor the unit itself do.
func (s *Records) Earlier(ctx context.Context, run runs.Stored, references []string) (readings.Earlier, error) {
	e := readings.Earlier{Keys: map[int]pattern.Counts{}, Pins: map[int]pattern.Counts{}}
	err := s.db.Ask(ctx, fmt.Sprintf("look up the units before run %d", run.Seq), func(tx *sql.Tx) error {
		all, err := store.Collect(ctx, tx, func(rows *sql.Rows) (r earlierRun, err error) {
			return r, rows.Scan(&r.seq, &r.serial, &r.jig)
		}, `SELECT run.seq, run.serial, jig.serial FROM run JOIN jig USING (jig) JOIN revision USING (revision)
		    WHERE run.seq < ? AND run.seq >= ? AND code = ? AND simulated = ? AND purpose = '' AND verdict IN ('pass', 'fail', 'reseat')
		    ORDER BY run.seq DESC`, run.Seq, run.Seq-runsBack, run.Product, run.Simulated)
		if err != nil || len(all) == 0 {
			return err
		}
		alike, err := sameLots(ctx, tx, run)
		if err != nil {
			return err
		}
		there := map[bool]map[string]bool{true: {}, false: {}} // units, by whether they were here
		at := map[int64]earlierRun{}
		for _, r := range all {
			here := r.jig == run.Jig.Serial
			most := map[bool]int{true: unitsHere, false: unitsElsewhere}[here]
			known := there[here][r.serial]
			if r.serial == run.Serial || slices.Contains(references, r.serial) || !here && !alike(r) || !known && len(there[here]) == most {
				continue
			}
			there[here][r.serial], at[r.seq] = true, r
		}
		failed, err := failedAt(ctx, tx, at)
		if err != nil {
			return err
		}
		of := pattern.Counts{HereOf: len(there[true]), ElsewhereOf: len(there[false])}
		for k, key := range run.Keys {
			count(e.Keys, k, of, failed[spot{key: key.Key}], run.Jig.Serial)
		}
		for _, seat := range run.Seats {
			count(e.Pins, seat.Pin, of, failed[spot{pin: seat.Pin}], run.Jig.Serial)
		}
		return nil
	})
	return e, err
}

func count(into map[int]pattern.Counts, place int, of pattern.Counts, failed map[[2]string]bool, here string) {
	for unit := range failed {
		if unit[0] == here {
			of.Here++
		} else {
			of.Elsewhere++
		}
	}
	if of.Any() {
		into[place] = of
	}
}

// sameLots reports whether runs on other jigs were made with the lots of this one, where
// those are known. Consumables are the jig's, and do not matter.
func sameLots(ctx context.Context, tx *sql.Tx, run runs.Stored) (func(earlierRun) bool, error) {
	changes, err := store.Collect(ctx, tx, floor.ScanLots, floor.LotColumns+`WHERE product = ? AND simulated = ? ORDER BY after_run DESC, seq DESC`,
		run.Product, run.Simulated)
	lotsOf := func(jig string, seq int64) floor.Lots {
		for _, c := range changes {
			if c.Jig == jig && c.AfterRun < seq {
				return c.Lots
			}
		}
		return nil
	}
	own := lotsOf(run.Jig.Serial, run.Seq)
	return func(r earlierRun) bool {
		theirs := lotsOf(r.jig, r.seq)
		for material, lot := range own {
			if material != "consumables" && theirs[material] != lot {
				return false
			}
		}
		return true
	}, err
}

// spot is a place as the jig knows it: an actuator, or a probe.
type spot struct {
	key string
	pin int
}

// failedAt gives the units that failed at each place, each with its jig. A finding about
// one line that is about no key is at that line's pin.
func failedAt(ctx context.Context, tx *sql.Tx, runs map[int64]earlierRun) (map[spot]map[[2]string]bool, error) {
	out := map[spot]map[[2]string]bool{}
	var numbers []int64
	for seq := range runs {
		numbers = append(numbers, seq)
	}
	slices.Sort(numbers)
	list, err := json.Marshal(numbers)
	if err != nil {
		return nil, err
	}
	err = store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var seq int64
		var at spot
		if err := rows.Scan(&seq, &at.key, &at.pin); err != nil {
			return err
		}
		if out[at] == nil {
			out[at] = map[[2]string]bool{}
		}
		out[at][[2]string{runs[seq].jig, runs[seq].serial}] = true
		return nil
	}, `SELECT run, key, 0 FROM run_finding WHERE key <> '' AND run IN (SELECT CAST(value AS bigint) FROM json_each(?1))
	    UNION SELECT run, '', CAST(pins ->> '$[0]' AS bigint) FROM run_finding
	          WHERE key = '' AND json_array_length(pins) = 1 AND run IN (SELECT CAST(value AS bigint) FROM json_each(?1))
	    UNION SELECT run, '', pin.number FROM run_seat JOIN pin USING (pin)
	          WHERE good = 0 AND pin.line <> '' AND run IN (SELECT CAST(value AS bigint) FROM json_each(?1))`, string(list))
	return out, err
}
