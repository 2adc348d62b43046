package results

import (
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs/runstest"
	"padjig/results/store"
)

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
	header := fmt.Sprintf(`PRAGMA application_id = %d; CREATE TABLE t (x); `, 0x7061646a)
	for name, c := range map[string]struct {
		path   string
		want   error
		remedy string
	}{
		"text":               {text, store.ErrForeign, "choose another name"},
		"another program's":  {makeFile(t, `CREATE TABLE t (x)`), store.ErrForeign, "choose another name"},
		"another marked one": {makeFile(t, `PRAGMA application_id = 42`), store.ErrForeign, "application id 0x2a"},
		"newer":              {makeFile(t, header+`PRAGMA user_version = 999`), store.ErrNewer, "use the newer padjig"},
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
	assert.ErrorIs(t, err, store.ErrNoStore)
	assert.ErrorContains(t, err, "the first test of a unit creates it")
	assert.NoFileExists(t, path)

	require.NoError(t, os.WriteFile(path, nil, 0o600))
	_, err = OpenReadOnly(t.Context(), path)
	assert.ErrorIs(t, err, store.ErrNoStore)
	openChecked(t, path, testSeams()) // a create that was cut short goes on
}

func TestDamageIsFoundAtOpen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	s, err := Open(t.Context(), path)
	require.NoError(t, err)
	for range 50 {
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Failed("24-000001"))
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
	assert.ErrorIs(t, err, store.ErrDamaged)
	assert.ErrorContains(t, err, "keep this file as it is")
}

func TestReadBesideAWriter(t *testing.T) {
	s := openTemp(t)
	reader, err := OpenReadOnly(t.Context(), s.Path())
	require.NoError(t, err)
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Failed("24-000001"))
	require.NoError(t, err)
	run, err := reader.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	assert.Equal(t, runstest.Failed("24-000001"), run.Run)

	_, err = reader.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000002"))
	assert.ErrorIs(t, err, store.ErrReadOnly)
	assert.ErrorIs(t, reader.Room(t.Context()), store.ErrReadOnly)
	require.NoError(t, reader.Close())
}

func TestClosedStore(t *testing.T) {
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), "padjig.db"))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.NoError(t, s.Close(), "closing twice")
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	assert.ErrorIs(t, err, store.ErrClosed)
	_, err = s.Runs.Unit(t.Context(), "24-000001")
	assert.ErrorIs(t, err, store.ErrClosed)
	_, err = s.Check(t.Context())
	assert.ErrorIs(t, err, store.ErrClosed)
}
