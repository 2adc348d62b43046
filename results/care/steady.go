package care

import (
	"context"
	"database/sql"
	"encoding/json"
	"math"

	"padjig/results/store"
	"padjig/sequence"
)

// Steadiness is what the records say of a jig itself over some runs: whether it read alike.
type Steadiness struct {
	Misread int // runs that ended because it read its own check resistors wrong
	Failed  int // verifications that found it out of tolerance, among the runs or next behind them
	Bad     int // checks of reference units that did not show what they must
	Checked []CheckedUnit
}

// CheckedUnit is a good reference unit that showed what it must, so many times.
type CheckedUnit struct {
	Unit   string
	Checks int
}

// Upset reports whether anything speaks against the jig.
func (s Steadiness) Upset() bool { return s.Misread+s.Failed+s.Bad > 0 }

// Stretch is the runs of a jig from one to another, by the order of records.
type Stretch struct {
	Jig      string // serial number
	From, To int64
}

// Steady looks at jigs, each over a stretch of its runs; one of which nothing is said is not in the answer. It asks once for all:
// a plant has hundreds.
func (s *Records) Steady(ctx context.Context, simulated bool, stretches []Stretch) (map[string]Steadiness, error) {
	list, err := json.Marshal(store.Each(stretches, func(s Stretch) [3]any { return [3]any{s.Jig, s.From, s.To} }))
	if err != nil {
		return nil, err
	}
	first, last := int64(math.MaxInt64), int64(math.MinInt64) // of all, by which rows are found
	for _, s := range stretches {
		first, last = min(first, s.From), max(last, s.To)
	}
	out := map[string]Steadiness{}
	err = s.db.Ask(ctx, "look up how jigs read", func(tx *sql.Tx) error {
		// Each jig under all numbers that its serial number has.
		const asked = `
			WITH asked AS (
				SELECT jig.jig AS jig, jig.serial AS serial, CAST(one.value ->> '$[1]' AS bigint) AS begins, CAST(one.value ->> '$[2]' AS bigint) AS ends
				FROM json_each(?1) AS one JOIN jig ON jig.serial = one.value ->> '$[0]')
			`
		count := func(what func(*Steadiness, int), query string, args ...any) error {
			return store.Visit(ctx, tx, func(rows *sql.Rows) error {
				var jig string
				var n int
				err := rows.Scan(&jig, &n)
				of := out[jig]
				what(&of, n)
				out[jig] = of
				return err
			}, asked+query+` GROUP BY asked.serial`, append([]any{string(list), simulated, first}, args...)...)
		}
		if err := count(func(of *Steadiness, n int) { of.Misread = n }, `
			SELECT asked.serial, count(*) FROM run JOIN asked ON asked.jig = run.jig AND run.seq BETWEEN begins AND ends
			WHERE run.seq BETWEEN ?3 AND ?4 AND simulated = ?2 AND ended ->> '$[0]' = ?5`, last, string(sequence.JigMisreads)); err != nil {
			return err
		}
		if err := count(func(of *Steadiness, n int) { of.Failed = n }, `
			SELECT asked.serial, count(*) FROM calibration AS c JOIN asked ON asked.jig = c.jig AND c.after_run >= begins
			WHERE c.after_run >= ?3 AND simulated = ?2 AND kind = 'verify' AND good = 0 AND c.seq <= coalesce((
				SELECT min(seq) FROM calibration AS later WHERE later.jig IN (SELECT jig FROM jig WHERE serial = asked.serial)
				AND later.simulated = ?2 AND later.kind = 'verify' AND later.after_run >= ends), c.seq)`); err != nil {
			return err
		}
		if err := count(func(of *Steadiness, n int) { of.Bad = n }, `
			SELECT asked.serial, count(*) FROM reference_check JOIN run ON run.seq = reference_check.run
			JOIN asked ON asked.jig = run.jig AND run.seq BETWEEN begins AND ends
			WHERE reference_check.run BETWEEN ?3 AND ?4 AND simulated = ?2 AND good = 0`, last); err != nil {
			return err
		}
		return store.Visit(ctx, tx, func(rows *sql.Rows) error {
			var jig string
			var u CheckedUnit
			err := rows.Scan(&jig, &u.Unit, &u.Checks)
			of := out[jig]
			of.Checked = append(of.Checked, u)
			out[jig] = of
			return err
		}, asked+`
			SELECT asked.serial, unit, count(*) FROM reference_check JOIN run ON run.seq = reference_check.run
			JOIN asked ON asked.jig = run.jig AND run.seq BETWEEN begins AND ends
			WHERE reference_check.run BETWEEN ?3 AND ?4 AND simulated = ?2 AND kind = 'good' AND good = 1 AND actuation <> 'electrical'
			GROUP BY asked.serial, unit ORDER BY asked.serial, unit`, string(list), simulated, first, last)
	})
	return out, err
}
