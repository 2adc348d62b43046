package results

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs/runstest"
	"padjig/results/store"
)

// withMigration is our migrations and one more.
func withMigration(t *testing.T, name, script string) store.Dependencies {
	t.Helper()
	files := fstest.MapFS{}
	names, err := fs.Glob(store.Real().Migrations, "*.sql")
	require.NoError(t, err)
	for _, n := range names {
		content, err := fs.ReadFile(store.Real().Migrations, n)
		require.NoError(t, err)
		files[n] = &fstest.MapFile{Data: content}
	}
	files[name] = &fstest.MapFile{Data: []byte(script)}
	with := testSeams()
	with.Migrations = files
	return with
}

// next is the number of the migration after ours.
func next(t *testing.T) int64 {
	t.Helper()
	names, err := fs.Glob(store.Real().Migrations, "*.sql")
	require.NoError(t, err)
	return int64(len(names) + 1)
}

// oneRun makes a store with one run and gives its path.
func oneRun(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "padjig.db")
	s, err := OpenWith(t.Context(), path, testSeams())
	require.NoError(t, err)
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Failed("24-000001"))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	return path
}

func TestMigratesAfterABackup(t *testing.T) {
	path := oneRun(t)
	more := fmt.Sprintf("%04d_more.sql", next(t))
	with := withMigration(t, more, `ALTER TABLE run ADD COLUMN batch TEXT NOT NULL DEFAULT ''`)
	s := openChecked(t, path, with)
	runs, err := s.Runs.Unit(t.Context(), "24-000001")
	require.NoError(t, err)
	require.Len(t, runs, 1)
	assert.Equal(t, runstest.Failed("24-000001"), runs[0].Run)
	applied, err := store.Collect(t.Context(), raw(s), store.ScanText, `
		SELECT version || ' ' || name FROM migration ORDER BY version`)
	require.NoError(t, err)
	require.Len(t, applied, int(next(t)))
	assert.Equal(t, "1 0001_runs.sql", applied[0])
	assert.Equal(t, fmt.Sprintf("%d %s", next(t), more), applied[next(t)-1])

	backup := fmt.Sprintf("%s.before-v%d", path, next(t))
	content, err := os.ReadFile(backup)
	require.NoError(t, err)
	sum, err := os.ReadFile(backup + ".sha256")
	require.NoError(t, err)
	assert.Equal(t, fmt.Sprintf("%x  padjig.db.before-v%d\n", sha256.Sum256(content), next(t)), string(sum))
	old := openChecked(t, backup, testSeams())
	runs, err = old.Runs.Unit(t.Context(), "24-000001")
	require.NoError(t, err)
	assert.Len(t, runs, 1)

	_, err = OpenWith(t.Context(), path, testSeams())
	assert.ErrorIs(t, err, store.ErrNewer, "an older padjig leaves it alone")
}

func TestFailedMigrationChangesNothing(t *testing.T) {
	path := oneRun(t)
	before := snapshot(t, path)
	bad := fmt.Sprintf("%04d_bad.sql", next(t))
	with := withMigration(t, bad, `CREATE TABLE half (x INTEGER) STRICT; INSERT INTO nowhere VALUES (1)`)
	_, err := OpenWith(t.Context(), path, with)
	assert.ErrorContains(t, err, "migration "+bad)
	assert.Equal(t, before, snapshot(t, path))

	_, err = OpenWith(t.Context(), path, with)
	assert.ErrorContains(t, err, "exists already; move it to a safe place", "the first backup is not overwritten")
}

func snapshot(t *testing.T, path string) map[string][]string {
	t.Helper()
	s := openChecked(t, path, testSeams())
	all := maps.Clone(contents(t, raw(s)))
	return all
}

func TestBackupThatCannotBeWritten(t *testing.T) {
	path := oneRun(t)
	require.NoError(t, os.MkdirAll(fmt.Sprintf("%s.before-v%d.unfinished/full", path, next(t)), 0o700))
	_, err := OpenWith(t.Context(), path, withMigration(t, fmt.Sprintf("%04d_more.sql", next(t)), `SELECT 1`))
	assert.ErrorContains(t, err, "back up before migrating")
	assert.ErrorContains(t, err, "the store is unchanged")
	openChecked(t, path, testSeams())
}
