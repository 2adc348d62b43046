package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
)

// Writer writes inside one transaction.
type Writer struct {
	Ctx      context.Context
	Tx       *sql.Tx
	Interned Interned
}

// Interned are rows whose numbers are known already. Such rows never
// change, so a number holds for as long as its transaction did: after one that
// failed begin with new ones.
type Interned map[internedRow]int64

// internedRow is one of them: its table and what stands in it.
type internedRow struct {
	table string
	is    [5]any
}

// Table is a table of interned rows: each combination stands in it once, and its
// number is in the column named like the table.
type Table struct {
	Name    string
	Columns []string // that make a row
}

func (t Table) row(values []any) internedRow {
	is := internedRow{table: t.Name}
	copy(is.is[:], values)
	return is
}

// Known gives the number of a row that was asked for before.
func (w Writer) Known(t Table, values ...any) (number int64, known bool) {
	number, known = w.Interned[t.row(values)]
	return number, known
}

// Intern gives the number of a row, writing it down when it is new.
func (w Writer) Intern(t Table, values ...any) (int64, error) {
	return w.InternOr(t, func() (sql.Result, error) {
		insert := fmt.Sprintf("INSERT INTO %s (%s) VALUES (%s)", t.Name, strings.Join(t.Columns, ", "), Placeholders(len(t.Columns)))
		return w.Tx.ExecContext(w.Ctx, insert, values...)
	}, values...)
}

// InternOr does so with a way of its own to add the row.
func (w Writer) InternOr(t Table, add func() (sql.Result, error), values ...any) (int64, error) {
	number, known := w.Known(t, values...)
	if known {
		return number, nil
	}
	find := fmt.Sprintf("SELECT %s FROM %s WHERE %s = ?", t.Name, t.Name, strings.Join(t.Columns, " = ? AND "))
	err := w.Tx.QueryRowContext(w.Ctx, find, values...).Scan(&number)
	if errors.Is(err, sql.ErrNoRows) {
		var added sql.Result
		if added, err = add(); err == nil {
			number, err = added.LastInsertId()
		}
	}
	if err != nil {
		return 0, fmt.Errorf("%s %v: %w", t.Name, values, err)
	}
	w.Interned[t.row(values)] = number
	return number, nil
}
