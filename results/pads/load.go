package pads

import (
	"context"
	"database/sql"
	"encoding/json"
	"slices"

	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/samepad"
)

// Run is a run whose readings are known.
type Run struct {
	ID     store.ID
	Seq    int64
	Serial string
	Ended  sequence.Code // why, where it has one
	read   map[string]samepad.Reading
}

// reader reads pads inside a transaction.
type reader struct {
	ctx context.Context
	tx  *sql.Tx
}

// which says of what runs: by the definition of the product, by their jigs being real or not, and by their order.
type which struct {
	hash      string
	simulated bool
	before    int64 // number of a run
}

const judgedRuns = `FROM run WHERE revision = ? AND simulated = ? AND purpose = '' AND outcome IN ('pass', 'fail')
	AND actuation <> 'electrical'`

// others gives the newest judged run of each of the last n serial numbers but one.
func (r reader) others(w which, serial string, n int) ([]Run, error) {
	revisions, err := store.Collect(r.ctx, r.tx, store.ScanInt, `SELECT revision FROM revision WHERE hash = ?`, w.hash)
	if err != nil {
		return nil, err
	}
	var found []Run
	for _, revision := range revisions { // one, unless its title was changed
		list, err := r.newest(`SELECT seq, id, serial, ended `+judgedRuns+` AND seq < ? AND serial <> ?
			ORDER BY seq DESC LIMIT ?`, n, revision, w.simulated, w.before, serial, retests*n)
		if err != nil {
			return nil, err
		}
		found = append(found, list...)
	}
	slices.SortFunc(found, func(a, b Run) int { return int(b.Seq - a.Seq) })
	found = once(found)
	return found[:min(n, len(found))], nil
}

// retests is how many judged runs a unit has at most, on average over the window:
// few units are tested again, and a window with more of them is a little shorter.
const retests = 2

// newest gives the first run of each serial number that a query lists.
func (r reader) newest(query string, n int, args ...any) ([]Run, error) {
	list, err := store.Collect(r.ctx, r.tx, scanRun, query, args...)
	list = once(list)
	return list[:min(n, len(list))], err
}

func once(list []Run) []Run {
	seen := map[string]bool{}
	return slices.DeleteFunc(list, func(run Run) bool {
		before := seen[run.Serial]
		seen[run.Serial] = true
		return before
	})
}

func scanRun(rows *sql.Rows) (run Run, err error) {
	var ended sequence.Said
	err = rows.Scan(&run.Seq, &run.ID, &run.Serial, store.JSON(&ended))
	run.Ended = ended.Code
	return run, err
}

// fill reads the keys of runs.
func (r reader) fill(list []Run) error {
	numbers := make([]int64, len(list))
	at := map[int64]map[string]samepad.Reading{}
	for i := range list {
		list[i].read = map[string]samepad.Reading{}
		numbers[i], at[list[i].Seq] = list[i].Seq, list[i].read
	}
	chosen, err := json.Marshal(numbers)
	if err != nil {
		return err
	}
	rows, err := r.tx.QueryContext(r.ctx, `
		SELECT run, key.label, closed_ohm, coalesce(closed_u_ohm, 0)
		FROM json_each(?) AS chosen JOIN run_key ON run_key.run = CAST(chosen.value AS bigint) JOIN key ON key.key = run_key.key
		WHERE passed = 1 AND closed_at_least = 0`, string(chosen))
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var run int64
		var key string
		var ohm, u float64
		if err := rows.Scan(&run, &key, &ohm, &u); err != nil {
			return err
		}
		at[run][key] = samepad.Reading{Ohm: ohm, U: u}
	}
	return rows.Err()
}

// readings are those of a run that can be compared: of keys that were pressed and are
// good. A key with a fault reads what its fault makes it.
func readings(run sequence.Run) map[string]samepad.Reading {
	read := map[string]samepad.Reading{}
	if run.Actuation == sequence.Electrical {
		return read
	}
	for _, k := range run.Keys {
		if k.Verdict == sequence.KeyPass && k.Closed != nil && !k.Closed.AtLeast {
			read[k.Key] = samepad.Reading{Ohm: float64(k.Closed.Value), U: float64(k.Closed.U)}
		}
	}
	return read
}

// ordered puts readings in the order of some keys.
func ordered(keys []sequence.KeyResult, read map[string]samepad.Reading) samepad.Pad {
	pad := make(samepad.Pad, len(keys))
	for i, k := range keys {
		pad[i] = read[k.Key]
	}
	return pad
}

// Comparable reports whether enough keys of a run were read for its pad to be known by them.
func Comparable(run runs.Stored) bool { return len(readings(run.Run)) >= samepad.LeastKeys }
