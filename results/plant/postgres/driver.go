package postgres

import (
	"context"
	"database/sql/driver"
	"regexp"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5/stdlib"
)

// asked is a connector whose connections take the text of a question as the stations' rooms
// write it: parameters are ? or ?1, and yes and no are 1 and 0.
type asked struct{ driver.Connector }

func (a asked) Connect(ctx context.Context) (driver.Conn, error) {
	c, err := a.Connector.Connect(ctx)
	if err != nil {
		return nil, untrusted(err)
	}
	return &conn{Conn: c.(*stdlib.Conn)}, nil
}

// conn rewrites what goes through it; everything else is pgx's.
type conn struct {
	*stdlib.Conn
	asks bool // questions are planned for what they ask
}

func (c *conn) PrepareContext(ctx context.Context, query string) (driver.Stmt, error) {
	return c.Conn.PrepareContext(ctx, asPostgres(query))
}

func (c *conn) ExecContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Result, error) {
	return c.Conn.ExecContext(ctx, asPostgres(query), args)
}

func (c *conn) QueryContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Rows, error) {
	return c.Conn.QueryContext(ctx, asPostgres(query), args)
}

// BeginTx begins a transaction. From the first on that only reads, each question of the connection is planned for what it asks: a plan that
// is to serve any time range and any station looks into every month.
func (c *conn) BeginTx(ctx context.Context, options driver.TxOptions) (driver.Tx, error) {
	if options.ReadOnly && !c.asks {
		if _, err := c.Conn.ExecContext(ctx, `SET plan_cache_mode = force_custom_plan`, nil); err != nil {
			return nil, err
		}
		c.asks = true
	}
	return c.Conn.BeginTx(ctx, options)
}

// CheckNamedValue turns a value into one of those that SQLite knows.
func (c *conn) CheckNamedValue(v *driver.NamedValue) error {
	value, err := driver.DefaultParameterConverter.ConvertValue(v.Value)
	if err != nil {
		return c.Conn.CheckNamedValue(v)
	}
	if yes, ok := value.(bool); ok {
		value = int64(0)
		if yes {
			value = int64(1)
		}
	}
	v.Value = value
	return nil
}

// hints tell SQLite in which order it shall join, and by which index; PostgreSQL takes none.
var hints = regexp.MustCompile(`\bCROSS (JOIN \w+(?: AS \w+)? (?:ON|USING)\b)|\b(?:NOT INDEXED|INDEXED BY \w+)`)

// asPostgres writes a question as PostgreSQL reads it.
func asPostgres(query string) string { return numbered(hints.ReplaceAllString(query, "$1")) }

// numbered writes parameters as PostgreSQL has them, $1; what stands in quotes or in a
// comment is left alone.
func numbered(query string) string {
	if !strings.Contains(query, "?") {
		return query
	}
	var out strings.Builder
	next := 0
	for i := 0; i < len(query); i++ {
		switch c := query[i]; {
		case c == '\'' || c == '"':
			end := closing(query, i)
			out.WriteString(query[i:end])
			i = end - 1
		case c == '-' && strings.HasPrefix(query[i:], "--"):
			end := len(query)
			if line := strings.IndexByte(query[i:], '\n'); line >= 0 {
				end = i + line
			}
			out.WriteString(query[i:end])
			i = end - 1
		case c == '?':
			digits := i + 1
			for digits < len(query) && query[digits] >= '0' && query[digits] <= '9' {
				digits++
			}
			number, err := strconv.Atoi(query[i+1 : digits])
			if err != nil {
				number = next + 1
			}
			next = max(next, number)
			out.WriteString("$" + strconv.Itoa(number))
			i = digits - 1
		default:
			out.WriteByte(c)
		}
	}
	return out.String()
}

// closing gives where a quoted text that begins at i is over. A quote in it stands twice.
func closing(query string, i int) int {
	end := strings.IndexByte(query[i+1:], query[i])
	if end < 0 {
		return len(query)
	}
	return i + 1 + end + 1
}
