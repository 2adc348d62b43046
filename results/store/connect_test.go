package store

import (
	"database/sql"
	"path/filepath"
	"strings"
	"testing"

	"github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// ask gives the value of a pragma on one connection of db.
func ask(t *testing.T, conn *sql.Conn, pragma string) string {
	t.Helper()
	var value string
	require.NoError(t, conn.QueryRowContext(t.Context(), "PRAGMA "+pragma).Scan(&value))
	return value
}

func TestEveryConnectionIsDurable(t *testing.T) {
	s := openTemp(t)
	conns := map[string]*sql.Conn{}
	for _, name := range []string{"reader 1", "reader 2", "reader 3", "reader 4"} {
		conn, err := s.read.Conn(t.Context())
		require.NoError(t, err)
		defer conn.Close()
		conns[name] = conn
	}
	writer, err := s.write.Conn(t.Context())
	require.NoError(t, err)
	defer writer.Close()
	conns["writer"] = writer

	for name, conn := range conns {
		t.Run(name, func(t *testing.T) {
			assert.Equal(t, "wal", ask(t, conn, "journal_mode"))
			assert.Equal(t, "2", ask(t, conn, "synchronous"), "FULL")
			assert.Equal(t, "1", ask(t, conn, "foreign_keys"))
			assert.Equal(t, "1", ask(t, conn, "recursive_triggers"))
			assert.Equal(t, "0", ask(t, conn, "trusted_schema"))
			assert.Equal(t, "1", ask(t, conn, "cell_size_check"))
			assert.Equal(t, "5000", ask(t, conn, "busy_timeout"))
			assert.Equal(t, "0", ask(t, conn, "mmap_size"))
		})
	}
	assert.Equal(t, 1, s.write.Stats().MaxOpenConnections)
	assert.Equal(t, 4, s.read.Stats().MaxOpenConnections)
}

func TestReadersCannotWrite(t *testing.T) {
	s := openTemp(t)
	_, err := s.read.ExecContext(t.Context(), `INSERT INTO step (name) VALUES ('forged')`)
	assert.ErrorContains(t, err, "readonly")
}

// Each setting is taken away from the data source in turn: the connection must
// then be refused, or the setting come from the hook.
func TestUnsafeSettingsAreRefused(t *testing.T) {
	for name, instead := range map[string][2]string{
		"synchronous left to the driver": {"&_synchronous=FULL", ""},
		"synchronous normal":             {"&_synchronous=FULL", "&_synchronous=NORMAL"},
		"rollback journal":               {"_journal_mode=WAL", "_journal_mode=DELETE"},
		"no foreign keys":                {"&_foreign_keys=1", ""},
		"no recursive triggers":          {"&_recursive_triggers=1", ""},
		"writer that cannot write":       {"&_foreign_keys=1", "&_foreign_keys=1&_query_only=1"},
	} {
		t.Run(name, func(t *testing.T) {
			dsn := strings.Replace(writerDSN, instead[0], instead[1], 1)
			require.NotEqual(t, writerDSN, dsn)
			db := pool(filepath.Join(t.TempDir(), "padjig.db"), "mode=rwc&"+dsn, writerSettings, 1)
			defer db.Close()
			err := db.PingContext(t.Context())
			assert.ErrorIs(t, err, ErrUnsafe)
			assert.ErrorContains(t, err, "put the store on a local disk")
		})
	}
}

func TestSQLiteIsNewEnough(t *testing.T) {
	_, number, _ := sqlite3.Version()
	assert.GreaterOrEqual(t, number, oldestSQLite)
}
