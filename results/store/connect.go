package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"strings"

	"github.com/mattn/go-sqlite3"
)

// oldestSQLite is the first version without the race that could damage a
// write-ahead log (https://www.sqlite.org/wal.html#walresetbug).
const oldestSQLite = 3_051_003

// applicationID marks the file as ours in its header: "padj".
const applicationID = 0x7061646a

// MaxReaders are those that read a store at once, and as many again of those at a jig: see [Reserved].
const MaxReaders = 4

// setting is a pragma and the value it must have on a connection.
type setting struct{ pragma, want string }

var (
	// synchronous 2 is FULL. The driver's own choice, NORMAL, loses
	// acknowledged runs when the power fails.
	everySetting = []setting{
		{"journal_mode", "wal"},
		{"synchronous", "2"},
		{"foreign_keys", "1"},
		{"recursive_triggers", "1"}, // or REPLACE would delete without a trigger noticing
		{"trusted_schema", "0"},
		{"cell_size_check", "1"},
		{"mmap_size", "0"},
	}
	writerSettings = append([]setting{{"query_only", "0"}}, everySetting...)
	readerSettings = append([]setting{{"query_only", "1"}}, everySetting...)
)

const (
	writerDSN = "_journal_mode=WAL&_synchronous=FULL&_txlock=immediate&_busy_timeout=5000" +
		"&_foreign_keys=1&_recursive_triggers=1&_stmt_cache_size=64"
	readerDSN = "mode=ro&_synchronous=FULL&_query_only=1&_busy_timeout=5000" +
		"&_foreign_keys=1&_recursive_triggers=1&_stmt_cache_size=64"
	// glanceDSN touches nothing: the file may belong to somebody else.
	glanceDSN = "mode=ro&_synchronous=FULL&_query_only=1&_busy_timeout=5000"
)

// openWriter gives the one connection that writes; mode is rwc to create the
// file where there is none, or rw.
func openWriter(path, mode string) *sql.DB {
	return pool(path, "mode="+mode+"&"+writerDSN, writerSettings, 1)
}

// openReaders gives connections that read. Each is made when it is needed, and
// refused unless still holds then.
func openReaders(path string, still func() error) *sql.DB {
	connector := newConnector(path, readerDSN, readerSettings)
	connector.still = still
	return poolOf(connector, MaxReaders)
}

func pool(path, parameters string, settings []setting, size int) *sql.DB {
	return poolOf(newConnector(path, parameters, settings), size)
}

func poolOf(c *connector, size int) *sql.DB {
	db := sql.OpenDB(c)
	db.SetMaxOpenConns(size)
	db.SetMaxIdleConns(size)
	db.SetConnMaxLifetime(0)
	return db
}

// connector opens connections that have proved their settings.
type connector struct {
	driver *sqlite3.SQLiteDriver
	dsn    string
	still  func() error // of the file that was opened; nil: not asked
}

func newConnector(path, parameters string, settings []setting) *connector {
	prove := func(conn *sqlite3.SQLiteConn) error { return prepare(conn, settings) }
	return &connector{&sqlite3.SQLiteDriver{ConnectHook: prove}, dataSource(path, parameters), nil}
}

// Connect opens a connection.
func (c *connector) Connect(context.Context) (driver.Conn, error) {
	conn, err := c.driver.Open(c.dsn)
	if err != nil || c.still == nil {
		return conn, err
	}
	if err := c.still(); err != nil {
		return nil, errors.Join(err, conn.Close())
	}
	return conn, nil
}

// Driver gives the driver beneath.
func (c *connector) Driver() driver.Driver { return c.driver }

// dataSource writes path as a URI, so that "?", "#" and "%" in it stay letters.
func dataSource(path, parameters string) string {
	slashed := filepath.ToSlash(path)
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed // a Windows drive
	}
	return "file://" + (&url.URL{Path: slashed}).EscapedPath() + "?" + parameters
}

func prepare(conn *sqlite3.SQLiteConn, settings []setting) error {
	if _, number, _ := sqlite3.Version(); number < oldestSQLite {
		return fmt.Errorf("%w: SQLite %d is built in, at least %d is needed; build padjig as its Makefile does",
			ErrUnsafe, number, oldestSQLite)
	}
	// The log is cut back to 16 MiB when a checkpoint has emptied it.
	const own = "PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON; PRAGMA mmap_size = 0;" +
		"PRAGMA journal_size_limit = 16777216;"
	if _, err := conn.Exec(own, nil); err != nil {
		return fmt.Errorf("set up connection: %w", err)
	}
	return verify(conn, settings)
}

// verify asks for every setting instead of trusting that it was taken.
func verify(conn *sqlite3.SQLiteConn, settings []setting) error {
	for _, s := range settings {
		got, err := pragma(conn, s.pragma)
		if err != nil {
			return fmt.Errorf("ask for %s: %w", s.pragma, err)
		}
		if got != s.want {
			return fmt.Errorf("%w: %s is %q and must be %q; put the store on a local disk",
				ErrUnsafe, s.pragma, got, s.want)
		}
	}
	return nil
}

func pragma(conn *sqlite3.SQLiteConn, name string) (string, error) {
	rows, err := conn.Query("PRAGMA "+name, nil)
	if err != nil {
		return "", err
	}
	defer rows.Close()
	value := make([]driver.Value, 1)
	if err := rows.Next(value); err != nil {
		return "", err
	}
	return fmt.Sprint(value[0]), nil
}
