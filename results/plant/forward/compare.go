package forward

import (
	"context"
	"database/sql"
	"slices"

	"padjig/results/plant/tables"
	"padjig/results/store"
)

// runNumbers finds the numbers of runs of a station at the plant; what is not there is left out.
func runNumbers(ctx context.Context, q querier, member int, locals []int64, into map[int64]int64) error {
	return store.Visit(ctx, q, func(r *sql.Rows) error {
		var local, number int64
		err := r.Scan(&local, &number)
		into[local] = number
		return err
	}, `SELECT local, seq FROM run WHERE member = ? AND local = ANY(?)`, member, locals)
}

func tableOf(name string) tables.Table {
	all := tables.All()
	return all[slices.IndexFunc(all, func(t tables.Table) bool { return t.Name == name })]
}

func (f *Forwarder) samePast(ctx context.Context, s *session) error { return nil }
