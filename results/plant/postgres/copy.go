package postgres

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// Copy puts rows into a table by COPY, in the transaction that the connection is in. A row is one
// value for each column: nil, int64, float64, string or []byte, of the very type of the column.
func Copy(ctx context.Context, c *sql.Conn, table string, columns []string, rows [][]any) error {
	if len(rows) == 0 {
		return nil
	}
	err := c.Raw(func(driver any) error {
		raw, ok := driver.(*conn)
		if !ok {
			return errors.New("this is no connection to PostgreSQL")
		}
		n, err := raw.Conn.Conn().CopyFrom(ctx, pgx.Identifier{table}, columns, pgx.CopyFromRows(rows))
		if err == nil && n != int64(len(rows)) {
			err = fmt.Errorf("%d of %d rows were taken", n, len(rows))
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("store rows of %s at the plant: %w", table, err)
	}
	return nil
}

// Code is the code of an error that the server told of (PostgreSQL, Appendix A), empty for any other.
func Code(err error) string {
	if told, is := errors.AsType[*pgconn.PgError](err); is {
		return told.Code
	}
	return ""
}

// Codes of errors that are decided by.
const (
	NotPermitted     = "42501"
	UndefinedTable   = "42P01"
	UniqueViolation  = "23505"
	CheckViolation   = "23514"
	Deadlock         = "40P01"
	LockNotAvailable = "55P03"
	ReadOnly         = "25006" // a reader's transaction, or a replica
)
