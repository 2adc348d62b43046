package results

import (
	"database/sql"
	"fmt"
	"os"
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

// makeFile runs a script on a fresh SQLite file, as another program would.
func makeFile(t *testing.T, script string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "other.db")
	db, err := sql.Open("sqlite3", path)
	require.NoError(t, err)
	_, err = db.Exec(script)
	require.NoError(t, err)
	require.NoError(t, db.Close())
	return path
}

func TestForeignFilesAreLeftAlone(t *testing.T) {
	text := filepath.Join(t.TempDir(), "notes.txt")
	require.NoError(t, os.WriteFile(text, []byte(strings.Repeat("not a database\n", 100)), 0o600))
	header := fmt.Sprintf(`PRAGMA application_id = %d; CREATE TABLE t (x); `, applicationID)
	for name, c := range map[string]struct {
		path   string
		want   error
		remedy string
	}{
		"text":               {text, ErrForeign, "choose another name"},
		"another program's":  {makeFile(t, `CREATE TABLE t (x)`), ErrForeign, "choose another name"},
		"another marked one": {makeFile(t, `PRAGMA application_id = 42`), ErrForeign, "application id 0x2a"},
		"newer":              {makeFile(t, header+`PRAGMA user_version = 999`), ErrNewer, "use the newer padjig"},
	} {
		t.Run(name, func(t *testing.T) {
			before, err := os.ReadFile(c.path)
			require.NoError(t, err)
			_, err = Open(t.Context(), c.path)
			assert.ErrorIs(t, err, c.want)
			assert.ErrorContains(t, err, c.remedy)
			assert.ErrorContains(t, err, c.path)
			_, err = OpenReadOnly(t.Context(), c.path)
			assert.ErrorIs(t, err, c.want)
			after, err := os.ReadFile(c.path)
			require.NoError(t, err)
			assert.Equal(t, before, after)
		})
	}
}

func TestOpenWhereThereIsNothing(t *testing.T) {
	dir := t.TempDir()
	_, err := Open(t.Context(), filepath.Join(dir, "missing", "padjig.db"))
	assert.ErrorContains(t, err, "create the folder")
	_, err = Open(t.Context(), dir)
	assert.ErrorContains(t, err, "name a file in it")

	path := filepath.Join(dir, "padjig.db")
	_, err = OpenReadOnly(t.Context(), path)
	assert.ErrorIs(t, err, ErrNoStore)
	assert.ErrorContains(t, err, "the first test of a unit creates it")
	assert.NoFileExists(t, path)

	require.NoError(t, os.WriteFile(path, nil, 0o600))
	_, err = OpenReadOnly(t.Context(), path)
	assert.ErrorIs(t, err, ErrNoStore)
	openChecked(t, path, testSeams()) // a create that was cut short goes on
}

func TestDamageIsFoundAtOpen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	s, err := Open(t.Context(), path)
	require.NoError(t, err)
	for range 50 {
		_, err := s.Save(t.Context(), climate(), failed("24-000001"))
		require.NoError(t, err)
	}
	require.NoError(t, s.Close())
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	for i := len(content) / 2; i < len(content)/2+4096; i++ {
		content[i] ^= 0x5a
	}
	require.NoError(t, os.WriteFile(path, content, 0o600))
	_, err = Open(t.Context(), path)
	assert.ErrorIs(t, err, ErrDamaged)
	assert.ErrorContains(t, err, "keep this file as it is")
}

func TestReadBesideAWriter(t *testing.T) {
	s := openTemp(t)
	reader, err := OpenReadOnly(t.Context(), s.Path())
	require.NoError(t, err)
	id, err := s.Save(t.Context(), climate(), failed("24-000001"))
	require.NoError(t, err)
	run, err := reader.Run(t.Context(), id)
	require.NoError(t, err)
	assert.Equal(t, failed("24-000001"), run.Run)

	_, err = reader.Save(t.Context(), climate(), passed("24-000002"))
	assert.ErrorIs(t, err, ErrReadOnly)
	assert.ErrorIs(t, reader.Room(t.Context()), ErrReadOnly)
	require.NoError(t, reader.Close())
}

func TestClosedStore(t *testing.T) {
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), "padjig.db"))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.NoError(t, s.Close(), "closing twice")
	_, err = s.Save(t.Context(), climate(), passed("24-000001"))
	assert.ErrorIs(t, err, ErrClosed)
	_, err = s.Unit(t.Context(), "24-000001")
	assert.ErrorIs(t, err, ErrClosed)
	_, err = s.Check(t.Context())
	assert.ErrorIs(t, err, ErrClosed)
}
