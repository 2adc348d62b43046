package studies

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"time"

	"padjig/results/lines"
	"padjig/results/store"
)

// Repeated is a reading of every key, over and over.
type Repeated struct {
	Keys   []string             // in the order of the product
	Values map[string][]float64 // by key, in the unit of the measure; NaN where there is no number
	Times  []time.Time          // when each was started
	Runs   []int64              // number of each run
}

// StudyValues gives a reading of every key at each place of a study's plan;
// NaN where it was not taken or beyond the range.
func (s *Records) StudyValues(ctx context.Context, study Study, m lines.Measure) (Repeated, error) {
	return s.repeated(ctx, m, len(study.Plan),
		`SELECT place, run FROM gauge_reading WHERE study = ?`, study.Number)
}

// ReferenceValues gives a reading of every key at each check of a reference
// unit on a jig that showed what it must, in the order of the checks.
func (s *Records) ReferenceValues(ctx context.Context, jig, unit string, simulated bool, m lines.Measure) (Repeated, error) {
	var count int
	const checks = ` FROM reference_check JOIN run ON run.seq = reference_check.run JOIN jig USING (jig)
		WHERE unit = ? AND jig.serial = ? AND simulated = ? AND reference_check.good = 1`
	err := s.db.Ask(ctx, fmt.Sprintf("look up reference unit %q", unit), func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, `SELECT count(*)`+checks, unit, jig, simulated).Scan(&count)
	})
	if err != nil {
		return Repeated{}, err
	}
	return s.repeated(ctx, m, count,
		`SELECT row_number() OVER (ORDER BY run.seq) - 1 AS place, run.seq AS run`+checks, unit, jig, simulated)
}

// repeated reads every key of the runs that a query numbers by place.
func (s *Records) repeated(ctx context.Context, m lines.Measure, places int, query string, args ...any) (Repeated, error) {
	out := Repeated{Values: map[string][]float64{}, Times: make([]time.Time, places), Runs: make([]int64, places)}
	err := s.db.Ask(ctx, fmt.Sprintf("look up %s readings", m), func(tx *sql.Tx) error {
		columns := lines.MeasureColumns[m]
		return store.Visit(ctx, tx, func(rows *sql.Rows) error { return out.scan(rows, places) }, `
			WITH taken AS (`+query+`)
			SELECT taken.place, run.seq, started_us, key.label, coalesce(`+columns[0]+`, 0), `+columns[2]+`
			FROM taken JOIN run ON run.seq = taken.run JOIN run_key ON run_key.run = run.seq JOIN key USING (key)
			ORDER BY taken.place, run_key.place`, args...)
	})
	return out, err
}

func (r *Repeated) scan(rows *sql.Rows, places int) error {
	var place int
	var seq, started int64
	var key string
	var value float64
	var number bool
	if err := rows.Scan(&place, &seq, &started, &key, &value, &number); err != nil {
		return err
	}
	if r.Values[key] == nil {
		r.Keys = append(r.Keys, key)
		r.Values[key] = make([]float64, places)
		for i := range r.Values[key] {
			r.Values[key][i] = math.NaN()
		}
	}
	r.Times[place], r.Runs[place] = time.UnixMicro(started).UTC(), seq
	if number {
		r.Values[key][place] = value
	}
	return nil
}
