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

// tampered makes a store with runs and a release, and runs a script over its closed file
// with what any SQLite shell can do.
func tampered(t *testing.T, script string) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "padjig.db")
	s, err := OpenWith(t.Context(), path, testSeams())
	require.NoError(t, err)
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	released(t, s, releaseOf(t, padText("A", "200 ohm")))
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	require.Empty(t, faults)
	require.NoError(t, s.Close())
	meddle(t, path, script)
	return path
}

func meddle(t *testing.T, path, script string) {
	t.Helper()
	db, err := sql.Open("sqlite3", path)
	require.NoError(t, err)
	_, err = db.Exec(script)
	require.NoError(t, err)
	require.NoError(t, db.Close())
}

// checkOf is what a check says of a store that is only read.
func checkOf(t *testing.T, path string) []string {
	t.Helper()
	s, err := OpenReadOnly(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	return faults
}

// Whoever takes a guard away, weakens it or adds something is found, by name.
func TestCheckComparesTheSchema(t *testing.T) {
	weakened := `
		DROP TRIGGER run_no_update;
		CREATE TRIGGER run_no_update BEFORE UPDATE ON run WHEN 0
		BEGIN SELECT RAISE(ABORT, 'padjig: run is append-only'); END`
	for name, c := range map[string]struct {
		script, want string
		opens        bool // for testing
	}{
		"a trigger dropped":  {`DROP TRIGGER run_no_delete`, "trigger run_no_delete is missing", false},
		"a trigger weakened": {weakened, `trigger run_no_update is not as padjig made it: "`, false},
		"a trigger disarmed in the schema's own table": {`PRAGMA writable_schema = ON;
			UPDATE sqlite_schema SET sql = replace(sql, 'BEGIN', 'WHEN 0 BEGIN') WHERE name = 'run_no_update';
			PRAGMA writable_schema = RESET`, "trigger run_no_update is not as padjig made it", false},
		"a trigger added": {`CREATE TRIGGER helpful AFTER INSERT ON run BEGIN DELETE FROM cell; END`,
			"trigger helpful is not padjig's", false},
		"an index dropped": {`DROP INDEX release_code`, "index release_code is missing", true},
		"an index elsewhere": {`DROP INDEX release_code; CREATE INDEX release_code ON release (label)`,
			`index release_code is not as padjig made it: "elease_code ON release (label)" should be "elease_code ON release (code, seq)"`, true},
		"a view replaced": {`DROP VIEW runs; CREATE VIEW runs AS SELECT seq, 'pass' AS outcome FROM run`,
			"view runs is not as padjig made it", true},
		"a view dropped": {`DROP VIEW findings`, "view findings is missing", true},
		"a table added":  {`CREATE TABLE notes (note TEXT)`, "table notes is not padjig's", true},
		"a column added": {`ALTER TABLE release ADD COLUMN note TEXT`, "table release is not as padjig made it", true},
	} {
		t.Run(name, func(t *testing.T) {
			path := tampered(t, c.script)
			faults := checkOf(t, path)
			require.Len(t, faults, 1, "%v", faults)
			assert.Contains(t, faults[0], c.want)
			before, err := os.ReadFile(path)
			require.NoError(t, err)
			s, err := OpenWith(t.Context(), path, testSeams())
			if c.opens {
				require.NoError(t, err)
				require.NoError(t, s.Close())
				return
			}
			require.ErrorIs(t, err, store.ErrUnguarded)
			assert.ErrorContains(t, err, c.want)
			assert.ErrorContains(t, err, "keep this file as it is, and go on with the last backup or a new store")
			after, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.Equal(t, before, after, "nothing was written")
		})
	}
}

// A store without its guards is not migrated either: nothing at all is written to it.
func TestUnguardedStoreIsNotMigrated(t *testing.T) {
	path := oneRun(t)
	meddle(t, path, `DROP TRIGGER run_no_update; DROP TRIGGER run_no_delete; DROP TRIGGER run_no_replace;
		DROP TRIGGER release_no_update; DROP TRIGGER release_no_delete`)
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	_, err = OpenWith(t.Context(), path, withMigration(t, fmt.Sprintf("%04d_more.sql", next(t)), `SELECT 1`))
	require.ErrorIs(t, err, store.ErrUnguarded)
	assert.ErrorContains(t, err, "and 2 more differences")
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, before, after)
	copies, err := filepath.Glob(path + ".before*")
	require.NoError(t, err)
	assert.Empty(t, copies)
}

// What is compared with is made by the migrations, those of a version to come too.
func TestSchemaFollowsTheMigrations(t *testing.T) {
	path := oneRun(t)
	with := withMigration(t, fmt.Sprintf("%04d_more.sql", next(t)), `
		CREATE TABLE more (seq INTEGER PRIMARY KEY) STRICT;
		CREATE TRIGGER more_no_update BEFORE UPDATE ON more BEGIN SELECT RAISE(ABORT, 'padjig: more is append-only'); END;`)
	s, err := OpenWith(t.Context(), path, with)
	require.NoError(t, err)
	checkAndClose(t, s)
	openChecked(t, path, with)
}

// Definitions and released files are read again. What a consistent edit leaves to see is
// said here too, and what it does not.
func TestCheckReadsDefinitionsAndReleasesAgain(t *testing.T) {
	other, same := releaseOf(t, padText("A", "300 ohm")), releaseOf(t, padText("A", "200 ohm"))
	edited, proposed := `{"code":"GH-20","keys":21}`, "release 1 of CP-4 is not what was proposed"
	quoted := func(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }
	for name, c := range map[string]struct {
		script string
		want   []string
	}{
		"definition": {`UPDATE revision SET definition = ` + quoted(edited),
			[]string{`product revision 1 (GH-20, revision "C") does not fit its hash: its definition is not what was stored`}},
		"definition and hash": {`UPDATE revision SET definition = ` + quoted(edited) + `, hash = ` + quoted(runstest.Defined(edited).Hash),
			[]string{"run 1 (unit 24-000001) is not what was stored: its hash differs"}}, // runs have it in theirs
		"limit of a release": {`UPDATE release SET source = ` + quoted(other.Source),
			[]string{`release 1 of CP-4 revision "A", 2b2b62682d25: not as it was released: its text is CP-4 revision "A", 05096c3a15e0`, proposed}},
		"label of a release": {`UPDATE release SET label = 'B'`,
			[]string{`release 1 of CP-4 revision "B", 2b2b62682d25: not as it was released: its text is CP-4 revision "A"`, proposed}},
		"hash of a release": {`UPDATE release SET hash = ` + quoted(other.Hash),
			[]string{`release 1 of CP-4 revision "A", 05096c3a15e0: not as it was released: its text is CP-4 revision "A", 2b2b62682d25`, proposed}},
		"no product file": {`UPDATE release SET source = 'x'`,
			[]string{`not as it was released: release 1:1:1: the product file must be`, proposed}},
		// Of a release of before nothing else held the hash; its proposal does now.
		"release and hash": {`UPDATE release SET source = ` + quoted(other.Source) + `, hash = ` + quoted(other.Hash), []string{proposed}},
		// A comment means nothing, and has no part in the hash; the text was proposed as it was.
		"comment in a release": {`UPDATE release SET source = ` + quoted("# nothing\n"+same.Source), []string{proposed}},
	} {
		t.Run(name, func(t *testing.T) {
			path := tampered(t, `SELECT 1`)
			unguardedly(t, path, c.script)
			faults := checkOf(t, path)
			require.Len(t, faults, len(c.want), "%v", faults)
			for i := range c.want {
				assert.Contains(t, faults[i], c.want[i])
			}
		})
	}
}

// unguardedly runs a script with the triggers out of the way, and puts them back as they were.
func unguardedly(t *testing.T, path, script string) {
	t.Helper()
	db, err := sql.Open("sqlite3", path)
	require.NoError(t, err)
	defer db.Close()
	type guard struct{ name, text string }
	guards, err := store.Collect(t.Context(), db, func(rows *sql.Rows) (g guard, err error) { return g, rows.Scan(&g.name, &g.text) },
		`SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' ORDER BY name`)
	require.NoError(t, err)
	for _, g := range guards {
		_, err := db.Exec(`DROP TRIGGER ` + g.name)
		require.NoError(t, err)
	}
	_, err = db.Exec(script)
	require.NoError(t, err)
	for _, g := range guards {
		_, err := db.Exec(g.text)
		require.NoError(t, err)
	}
}
