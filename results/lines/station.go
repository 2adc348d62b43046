package lines

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"padjig/results/hourly"
	"padjig/results/store"
)

// ErrOneStation is returned where stations are chosen or told apart in the records of one.
var ErrOneStation = errors.New("these are the records of one station, which cannot tell stations apart")

// ask is a question about runs that a filter chooses, told apart by some dimensions.
func (s *Records) ask(ctx context.Context, what string, f Filter, by []Dimension, do func(*sql.Tx) error) error {
	if !s.db.OfMany() && (len(f.Stations) > 0 || slices.Contains(by, ByStation)) {
		return fmt.Errorf("%s in %s: %w", what, s.db.Path(), ErrOneStation)
	}
	return s.db.Ask(ctx, what, do)
}

// listed is ask for all rows of a query.
func listed[T any](ctx context.Context, s *Records, what string, f Filter, scan func(*sql.Rows) (T, error), query string, args ...any) (list []T, err error) {
	err = s.ask(ctx, what, f, nil, func(tx *sql.Tx) (err error) {
		list, err = store.Collect(ctx, tx, scan, query, args...)
		return err
	})
	return list, err
}

// cellsBy are cells with what a filter asks about, and what they are told apart by.
func cellsBy(by ...Dimension) string {
	if !slices.Contains(by, ByStation) {
		return hourly.AggregatesFrom
	}
	return hourly.AggregatesFrom + "JOIN member ON member.member = cell.member "
}

// ofStations is a condition on the station that a row of a table is of.
func (f Filter) ofStations(table string) (condition string, args []any) {
	if len(f.Stations) == 0 {
		return "", nil
	}
	return " AND " + table + ".member IN (SELECT member FROM member WHERE name IN (" + store.Placeholders(len(f.Stations)) + "))",
		store.Each(f.Stations, func(name string) any { return name })
}
