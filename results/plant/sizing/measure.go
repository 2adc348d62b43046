package sizing

import (
	"context"
	"database/sql"
	"fmt"

	"padjig/results/store"
)

// kept are the parts of a run that stay when its month is retired; the other parts are readings.
var kept = map[string]bool{"run": true, "run_finding": true, "run_cell": true, "run_pad": true}

// Measure looks how large the tables of a plant are, with indexes, for each run of it. What is a rate, and the files and the
// log, is not seen from there and stays 0.
func Measure(ctx context.Context, db *sql.DB) (m Measured, err error) {
	tx, err := db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return m, fmt.Errorf("measure the plant: %w", err)
	}
	defer func() { _ = tx.Rollback() }() // nothing was written
	var rows float64
	err = tx.QueryRowContext(ctx, `SELECT count(*), coalesce(sum(1 + steps + seats + keys + pairs + findings + exercised + insulation), 0) FROM run`).Scan(&m.Runs, &rows)
	if err != nil {
		return m, fmt.Errorf("measure the plant: %w", err)
	}
	if m.Runs == 0 {
		return m, fmt.Errorf("measure the plant: it has no runs")
	}
	err = store.Visit(ctx, tx, func(r *sql.Rows) error {
		var table string
		var part bool
		var bytes float64
		if err := r.Scan(&table, &part, &bytes); err != nil {
			return err
		}
		switch {
		case kept[table]:
			m.BytesKept += bytes
		case part:
			m.BytesReadings += bytes
		default:
			m.BytesOther += bytes
		}
		return nil
	}, `SELECT coalesce(parent.relname, part.relname), parent.relname IS NOT NULL, sum(pg_total_relation_size(part.oid))
		FROM pg_class AS part LEFT JOIN pg_inherits ON inhrelid = part.oid LEFT JOIN pg_class AS parent ON parent.oid = inhparent
		WHERE part.relnamespace = 'public'::regnamespace AND part.relkind = 'r' GROUP BY 1, 2`)
	if err != nil {
		return m, fmt.Errorf("measure the plant: %w", err)
	}
	n := float64(m.Runs)
	m.RowsOfRun = rows / n
	m.BytesKept, m.BytesReadings, m.BytesOther = m.BytesKept/n, m.BytesReadings/n, m.BytesOther/n
	return m, nil
}
