package results

import (
	"database/sql"
	"io/fs"
	"path/filepath"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// upTo is our migrations up to one of them.
func upTo(t *testing.T, version int) seams {
	t.Helper()
	names, err := fs.Glob(embedded(), "*.sql")
	require.NoError(t, err)
	files := fstest.MapFS{}
	for _, name := range names[:version] {
		content, err := fs.ReadFile(embedded(), name)
		require.NoError(t, err)
		files[name] = &fstest.MapFile{Data: content}
	}
	with := testSeams()
	with.migrations = files
	return with
}

// A run stored before migration 4 has neither polarities nor trend. Its
// canonical record has no such members, so the hash stored then holds.
func TestRunsBeforePolarityStillVerify(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	s, err := openWith(t.Context(), path, upTo(t, 4))
	require.NoError(t, err)
	_, err = s.Save(t.Context(), climate(), failed("24-000001"))
	require.NoError(t, err)
	require.NoError(t, s.Close())

	db, err := sql.Open("sqlite3", path)
	require.NoError(t, err)
	for _, step := range []string{
		`DROP VIEW keys`, `DROP VIEW pairs`, `CREATE VIEW keys AS SELECT 1`, `CREATE VIEW pairs AS SELECT 1`,
		`ALTER TABLE run_key DROP COLUMN reverse_mohm`, `ALTER TABLE run_key DROP COLUMN reverse_u_mohm`,
		`ALTER TABLE run_key DROP COLUMN reverse_at_least`,
		`ALTER TABLE run_pair DROP COLUMN forward_mohm`, `ALTER TABLE run_pair DROP COLUMN forward_u_mohm`,
		`ALTER TABLE run_pair DROP COLUMN forward_at_least`,
		`ALTER TABLE run_pair DROP COLUMN backward_mohm`, `ALTER TABLE run_pair DROP COLUMN backward_u_mohm`,
		`ALTER TABLE run_pair DROP COLUMN backward_at_least`, `ALTER TABLE run_pair DROP COLUMN trend`,
		`DROP TRIGGER migration_no_delete`, `DELETE FROM migration WHERE version = 4`, `PRAGMA user_version = 3`,
	} {
		_, err := db.Exec(step)
		require.NoError(t, err, step)
	}
	require.NoError(t, db.Close())

	s, err = openWith(t.Context(), path, upTo(t, 4))
	require.NoError(t, err)
	defer s.Close()
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, faults, "the hash of the run of before holds")
	runs, err := s.Unit(t.Context(), "24-000001")
	require.NoError(t, err)
	require.Len(t, runs, 1)
	assert.Equal(t, failed("24-000001"), runs[0].Run)
}
