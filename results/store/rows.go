package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// Each turns every member of a list into something else; nil stays nil.
func Each[A, B any](list []A, to func(A) B) []B {
	var all []B
	for _, a := range list {
		all = append(all, to(a))
	}
	return all
}

// Text makes s storable as text: a jig's name with a damaged byte in it must
// not cost a result. SQLite's shell would stop reading at a zero byte.
func Text(s string) string {
	if utf8.ValidString(s) && !strings.Contains(s, "\x00") {
		return s
	}
	return strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", "\uFFFD")
}

// RowOf reads a single row; found is false when there is none.
func RowOf(ctx context.Context, tx *sql.Tx, query string, args []any, into ...any) (found bool, err error) {
	err = tx.QueryRowContext(ctx, query, args...).Scan(into...)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, err
}

// querier is a transaction or a pool.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// Visit goes through the rows of a query, however many there are.
func Visit(ctx context.Context, q querier, take func(*sql.Rows) error, query string, args ...any) error {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := take(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Collect reads all rows of a query; the list is empty, never nil, when there are none.
func Collect[T any](ctx context.Context, q querier, scan func(*sql.Rows) (T, error),
	query string, args ...any) ([]T, error) {
	list := []T{}
	err := Visit(ctx, q, func(rows *sql.Rows) error {
		row, err := scan(rows)
		list = append(list, row)
		return err
	}, query, args...)
	if err != nil {
		return nil, err
	}
	return list, nil
}

// List answers a question by all rows of a query.
func List[T any](ctx context.Context, s *DB, what string, scan func(*sql.Rows) (T, error),
	query string, args ...any) (list []T, err error) {
	err = s.Ask(ctx, what, func(tx *sql.Tx) (err error) {
		list, err = Collect(ctx, tx, scan, query, args...)
		return err
	})
	return list, err
}

// First answers a question by the first row of a query, nil when there is none.
func First[T any](ctx context.Context, s *DB, what string, scan func(*sql.Rows) (T, error),
	query string, args ...any) (*T, error) {
	list, err := List(ctx, s, what, scan, query, args...)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return &list[0], nil
}

// ScanInt reads a row of one number.
func ScanInt(rows *sql.Rows) (n int64, err error) { return n, rows.Scan(&n) }

// ScanText reads a row of one text.
func ScanText(rows *sql.Rows) (text string, err error) { return text, rows.Scan(&text) }

// Time reads a time that is stored in microseconds since 1970.
func Time(into *time.Time) sql.Scanner { return micros{into} }

type micros struct{ into *time.Time }

// Scan takes what was stored.
func (m micros) Scan(stored any) error {
	us, ok := stored.(int64)
	if !ok {
		return fmt.Errorf("time of %T is no whole number", stored)
	}
	*m.into = time.UnixMicro(us).UTC()
	return nil
}

// JSON reads a column of JSON; NULL leaves what is there.
func JSON(into any) sql.Scanner { return document{into} }

type document struct{ into any }

// Scan takes what was stored.
func (d document) Scan(stored any) error {
	switch text := stored.(type) {
	case nil:
		return nil
	case string:
		return json.Unmarshal([]byte(text), d.into)
	case []byte:
		return json.Unmarshal(text, d.into)
	}
	return fmt.Errorf("%T is no JSON", stored)
}

// ToMicro is a duration as it is stored, in whole microseconds.
func ToMicro(d time.Duration) int64 { return int64(d.Round(time.Microsecond) / time.Microsecond) }

// FromMicro gives it back.
func FromMicro(us int64) time.Duration { return time.Duration(us) * time.Microsecond }

// Rows are to be inserted together: one statement for many rows costs a tenth
// of one for each.
type Rows struct {
	into   string // table (columns)
	width  int
	values []any
}

// maxRows keeps a statement far below SQLite's 32,766 parameters.
const maxRows = 512

// Into begins rows for a table and its columns, of which so many are expected.
func Into(into string, expect int) *Rows {
	width := strings.Count(into, ",") + 1
	return &Rows{into: into, width: width, values: make([]any, 0, expect*width)}
}

// Add adds the next values of a row, or of several.
func (r *Rows) Add(values ...any) { r.values = append(r.values, values...) }

// Insert writes them all.
func (r *Rows) Insert(w Writer) error {
	for len(r.values) > 0 {
		n := min(len(r.values), maxRows*r.width)
		if _, err := w.Tx.ExecContext(w.Ctx, r.statement(n/r.width), r.values[:n]...); err != nil {
			return fmt.Errorf("insert into %s: %w", r.into, err)
		}
		r.values = r.values[n:]
	}
	return nil
}

func (r *Rows) statement(count int) string {
	row := "(" + Placeholders(r.width) + "), "
	return "INSERT INTO " + r.into + " VALUES " + strings.TrimSuffix(strings.Repeat(row, count), ", ")
}

// Placeholders are so many question marks for a statement.
func Placeholders(n int) string { return strings.TrimSuffix(strings.Repeat("?, ", n), ", ") }
