package store

import (
	"database/sql"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write newest.sql anew")

// What a store is begun with is what all migrations make, one after the other: every object with its text, those of one
// kind in the same order, and every row that a migration wrote.
func TestNewestIsWhatTheMigrationsMake(t *testing.T) {
	list := migrations(t)
	migrated := inMemory(t)
	for _, m := range list {
		_, err := migrated.Exec(m.script)
		require.NoError(t, err, m.name)
	}
	want := statements(t, migrated)
	written := newestText
	if *update {
		var text strings.Builder
		fmt.Fprintf(&text, "%s%d", newestHead, len(list))
		for _, o := range want {
			fmt.Fprintf(&text, "%s%v\n%s;", newestPart, o, o.text)
		}
		require.NoError(t, os.WriteFile("newest.sql", []byte(text.String()+"\n"), 0o644))
		written = text.String() + "\n"
	}
	version, parts, err := newest(written)
	require.NoError(t, err)
	const anew = "after a migration: go test ./results/store -run NewestIs -update"
	require.EqualValues(t, len(list), version, anew)
	alike(t, want, parts, anew)
	kinds := map[string]int{}
	for _, o := range parts {
		kinds[o.kind]++
	}
	for _, kind := range []string{"table", rowsOf, "index", "view", "trigger"} {
		assert.Positive(t, kinds[kind], kind)
	}

	made := inMemory(t)
	for _, o := range parts {
		_, err := made.Exec(o.text)
		require.NoError(t, err, o)
	}
	alike(t, want, statements(t, made), "made")
	here, err := objects(t.Context(), made)
	require.NoError(t, err)
	there, err := objectsOf(t.Context(), list)
	require.NoError(t, err)
	alike(t, there, here, "listed")
	alike(t, there, guardsOf(parts), "guards")
}

// A store that is begun at once is the one that is brought up to date step by step, to the row, and tells the same of
// its migrations.
func TestBegunAtOnceOrStepByStep(t *testing.T) {
	files := fstest.MapFS{} // of the same content, and others to the program
	for _, m := range migrations(t) {
		files[m.name] = &fstest.MapFile{Data: []byte(m.script)}
	}
	begun := func(files fs.FS) (all []object, applied []string) {
		with := forTests()
		with.Now = func() time.Time { return time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC) }
		if files != nil {
			with.Migrations = files
		}
		s := opened(t, filepath.Join(t.TempDir(), "padjig.db"), with)
		applied, err := Collect(t.Context(), s.write, ScanText, `SELECT version || ' ' || name FROM migration ORDER BY rowid`)
		require.NoError(t, err)
		header, err := Collect(t.Context(), s.write, ScanText,
			`SELECT user_version || ' ' || application_id FROM pragma_user_version, pragma_application_id`)
		require.NoError(t, err)
		return statements(t, s.write), append(applied, header...)
	}
	want, told := begun(files)
	got, tells := begun(nil)
	alike(t, want, got, "begun")
	assert.Equal(t, told, tells)
	assert.Len(t, tells, len(files)+1)
}

// alike fails at the first of two lists' differences: all that stores are made of is long.
func alike(t *testing.T, want, got []object, why string) {
	t.Helper()
	for i := range min(len(want), len(got)) {
		require.Equal(t, want[i], got[i], why)
	}
	require.Len(t, got, len(want), why)
}

func inMemory(t *testing.T) *sql.DB {
	t.Helper()
	db := sql.OpenDB(&connector{driver: &sqlite3.SQLiteDriver{}, dsn: ":memory:"})
	db.SetMaxOpenConns(1) // each connection would have a memory of its own
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	return db
}

// statements make what is in a database: tables, then their rows, then what reads and guards these.
func statements(t *testing.T, db *sql.DB) []object {
	t.Helper()
	all, err := Collect(t.Context(), db, scanObject, `
		SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite\_%' ESCAPE '\' ORDER BY type <> 'table', rowid`)
	require.NoError(t, err)
	tables := slices.IndexFunc(all, func(o object) bool { return o.kind != "table" })
	require.Positive(t, tables)
	var rows []object
	for _, table := range all[:tables] {
		columns, err := Collect(t.Context(), db, ScanText, `SELECT '"' || name || '"' FROM pragma_table_xinfo(?) WHERE hidden = 0 ORDER BY cid`, table.name)
		require.NoError(t, err)
		values := "quote(" + strings.Join(columns, ") || ', ' || quote(") + ")"
		found, err := Collect(t.Context(), db, ScanText, `SELECT `+values+` FROM "`+table.name+`"`)
		require.NoError(t, err)
		for _, row := range found {
			rows = append(rows, object{rowsOf, table.name, "INSERT INTO " + table.name + " (" + strings.Join(columns, ", ") + ") VALUES (" + row + ")"})
		}
	}
	return slices.Concat(all[:tables], rows, all[tables:])
}
