package hourly

import (
	"cmp"
	"context"
	"database/sql"
	"math"
	"slices"
	"strings"
	"time"

	"padjig/results/store"
)

// Span is a day or a month of the plant of which all cells are summed up. One that is stored is complete and right:
// the database itself takes it out as soon as a cell of it changes in a way that cannot be brought along
// (migration 39 of a station, 14 of a plant). So a question takes the spans that it finds, and cells for the rest.
//
// What days there are is a matter of speed alone: a span says itself which hours it sums up, so that those of
// a zone that the plant no longer goes by, or that a question is not asked in, are right too.
type Span struct {
	Number       int64
	Level        Level
	Detail       Detail
	Begins, Ends int64 // hours of UTC since 1970, Ends not among them
}

// Level is how long a span is.
type Level int

// The spans there are.
const (
	Day   Level = 1
	Month Level = 2
)

// Detail is what the rows of a span are told apart by.
type Detail int

// A span is stored in both details. Nearly every question needs neither shift nor lots nor operator, and without
// these a month has one row a jig and revision.
const (
	Coarse Detail = 0 // all but shift, lots and operator
	Fine   Detail = 1 // all that cells are told apart by
)

// around is the span of a level that an hour lies in, by the clock of a zone: an hour that two days share belongs to that in which it begins.
func (l Level) around(hour int64, zone *time.Location) (begins, ends int64) {
	year, month, day := time.Unix(hour*3600, 0).In(zone).Date()
	if l == Month {
		return edge(year, month, 1, zone), edge(year, month+1, 1, zone)
	}
	return edge(year, month, day, zone), edge(year, month, day+1, zone)
}

// edge is the first hour that begins on a day, or after it where clocks leave the day out. Where midnight does not
// exist, or comes twice, [time.Date] gives either side: the hours around it decide.
func edge(year int, month time.Month, day int, zone *time.Location) int64 {
	number := func(t time.Time) int { return t.Year()*1000 + t.YearDay() }
	of := number(time.Date(year, month, day, 0, 0, 0, 0, time.UTC)) // as a calendar has it
	before := func(hour int64) bool { return number(time.Unix(hour*3600, 0).In(zone)) < of }
	hour := time.Date(year, month, day, 0, 0, 0, 0, zone).Unix() / 3600
	for !before(hour - 1) {
		hour--
	}
	for before(hour) {
		hour++
	}
	return hour
}

// Spans are those stored of one detail that have hours in a range, both ends of it in.
func Spans(ctx context.Context, tx *sql.Tx, detail Detail, from, to int64) ([]Span, error) {
	return store.Collect(ctx, tx, scanSpan, `SELECT span, level, detail, begins, ends FROM span WHERE detail = ? AND ends > ? AND begins <= ?`,
		int64(detail), from, to)
}

func scanSpan(rows *sql.Rows) (s Span, err error) {
	return s, rows.Scan(&s.Number, &s.Level, &s.Detail, &s.Begins, &s.Ends)
}

// Range are hours, both ends in.
type Range struct{ From, To int64 }

// Cover puts together what sums up the hours of a range: spans that lie wholly in it and of which none lies in another, the longest
// first, and the hours that are left.
func Cover(spans []Span, hours Range) (whole []Span, left []Range) {
	for _, level := range []Level{Month, Day} {
		for _, s := range spans {
			if s.Level == level && s.Begins >= hours.From && s.Ends-1 <= hours.To &&
				!slices.ContainsFunc(whole, func(w Span) bool { return s.Begins < w.Ends && w.Begins < s.Ends }) {
				whole = append(whole, s)
			}
		}
	}
	slices.SortFunc(whole, func(a, b Span) int { return cmp.Compare(a.Begins, b.Begins) })
	at := hours.From
	for _, s := range whole {
		if at < s.Begins {
			left = append(left, Range{at, s.Begins - 1})
		}
		at = s.Ends
	}
	if at <= hours.To || len(whole) == 0 { // the hours of a range that ends before it begins are looked for as they are
		left = append(left, Range{at, hours.To})
	}
	return whole, left
}

// OfOneDay are the days among spans of which no hour is of another day in a zone.
func OfOneDay(spans []Span, zone *time.Location) []Span {
	return slices.DeleteFunc(slices.Clone(spans), func(s Span) bool {
		begins, ends := Day.around(s.Begins, zone)
		return s.Level != Day || s.Begins < begins || s.Ends > ends
	})
}

// Covering is [Cover] of the spans that are stored; where days is a zone, of days alone that are days there too.
func Covering(ctx context.Context, tx *sql.Tx, detail Detail, hours Range, days *time.Location) ([]Span, []Range, error) {
	there, err := Spans(ctx, tx, detail, hours.From, hours.To)
	if err == nil && days != nil {
		there = OfOneDay(there, days)
	}
	whole, left := Cover(there, hours)
	return whole, left, err
}

// InHours is a condition on the hours of cells.
func InHours(column string, hours []Range) (condition string, args []any) {
	var either []string
	for _, r := range hours {
		switch {
		case r.From == math.MinInt64 && r.To == math.MaxInt64:
			return "1 = 1", nil
		case r.From == math.MinInt64:
			either, args = append(either, column+" <= ?"), append(args, r.To)
		case r.To == math.MaxInt64:
			either, args = append(either, column+" >= ?"), append(args, r.From)
		default:
			either, args = append(either, column+" BETWEEN ? AND ?"), append(args, r.From, r.To)
		}
	}
	return "(" + strings.Join(either, " OR ") + ")", args
}
