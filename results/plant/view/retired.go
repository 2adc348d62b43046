package view

import (
	"context"
	"database/sql"
	"slices"
	"time"

	"padjig/results/plant/postgres"
	"padjig/results/store"
)

// Retired is a month whose readings are not in the database any more: they lie in files, see package retention.
type Retired struct {
	Month     string // such as 2025-01
	Low, High int64  // numbers of its runs: from Low on, below High
	Folder    string // of the files, as whoever retired it named it; empty where a padjig of before did not keep it
	By        string
	Dropped   time.Time
}

// Retired are the months whose readings are gone, oldest first.
func (r *Records) Retired(ctx context.Context) ([]Retired, error) {
	return store.List(ctx, r.db, "look up the months that were retired", func(rows *sql.Rows) (m Retired, err error) {
		return m, rows.Scan(&m.Month, &m.Low, &m.High, &m.Folder, &m.By, store.Time(&m.Dropped))
	}, `SELECT name, low, high, folder, by, dropped_us FROM retired_month WHERE dropped_us IS NOT NULL ORDER BY low`)
}

// RetiredOf are those months that any of these runs lies in; r is nil for the records of one station, which has none.
func (r *Records) RetiredOf(ctx context.Context, numbers []int64) ([]Retired, error) {
	return r.retired(ctx, func(m Retired) bool {
		return slices.ContainsFunc(numbers, func(n int64) bool { return n >= m.Low && n < m.High })
	})
}

// RetiredWithin are those months that have a part in a range of time; zero times are open. A run lies in the month in which it was
// stored: one that began in the last hours of a month may lie in the next one.
func (r *Records) RetiredWithin(ctx context.Context, from, to time.Time) ([]Retired, error) {
	return r.retired(ctx, func(m Retired) bool {
		return (to.IsZero() || m.Low < postgres.RunNumber(0, to, 0)) && (from.IsZero() || m.High > postgres.RunNumber(0, from, 0))
	})
}

func (r *Records) retired(ctx context.Context, in func(Retired) bool) ([]Retired, error) {
	if r == nil {
		return nil, nil
	}
	all, err := r.Retired(ctx)
	return slices.DeleteFunc(all, func(m Retired) bool { return !in(m) }), err
}
