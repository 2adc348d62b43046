package postgres_test

import (
	"context"
	"database/sql"
	"io/fs"
	"maps"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/plant/postgres"
)

// steps are migrations by their names.
func steps(texts map[string]string) fs.FS {
	files := fstest.MapFS{}
	for name, text := range texts {
		files["migrations/"+name+".sql"] = &fstest.MapFile{Data: []byte(text)}
	}
	return files
}

func opened(t *testing.T, address string) *sql.DB {
	t.Helper()
	db, err := postgres.Open(address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() })
	return db
}

func TestManyMigrateAtOnce(t *testing.T) {
	address := server.Empty(t)
	var all sync.WaitGroup
	versions, errs := make([]int, 4), make([]error, 4)
	for i := range versions {
		db := opened(t, address)
		all.Go(func() { versions[i], errs[i] = postgres.Migrate(t.Context(), db) })
	}
	all.Wait()
	for i := range versions {
		require.NoError(t, errs[i])
		assert.Equal(t, versions[0], versions[i])
	}
	var done int
	require.NoError(t, opened(t, address).QueryRowContext(t.Context(), `SELECT count(*) FROM migration`).Scan(&done))
	assert.Equal(t, versions[0], done)
}

func TestMigrationThatFailsHalfWayLeavesNothing(t *testing.T) {
	db := opened(t, server.Empty(t))
	first := map[string]string{"0001_a": `CREATE TABLE a (n bigint)`}
	_, err := postgres.MigrateFrom(t.Context(), db, steps(first))
	require.NoError(t, err)
	bad := maps.Clone(first)
	bad["0002_b"] = `CREATE TABLE b (n bigint)`
	bad["0003_c"] = `CREATE TABLE c (n bigint); INSERT INTO c VALUES (1); SELECT 1 / 0;`
	version, err := postgres.MigrateFrom(t.Context(), db, steps(bad))
	require.ErrorContains(t, err, "0003_c")
	assert.Equal(t, 1, version)
	assert.Equal(t, []string{"a", "migration"}, tables(t, db))

	gap := maps.Clone(first)
	gap["0003_c"] = `CREATE TABLE c (n bigint)`
	_, err = postgres.MigrateFrom(t.Context(), db, steps(gap))
	require.ErrorContains(t, err, "does not follow 1")
}

func tables(t *testing.T, db *sql.DB) (names []string) {
	t.Helper()
	var all string
	require.NoError(t, db.QueryRowContext(t.Context(),
		`SELECT string_agg(relname, ' ' ORDER BY relname) FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r'`).Scan(&all))
	return strings.Fields(all)
}

func TestDatabasesOfOtherPrograms(t *testing.T) {
	db := opened(t, server.Empty(t))
	two := map[string]string{"0001_a": `SELECT 1`, "0002_b": `SELECT 1`}
	_, err := postgres.MigrateFrom(t.Context(), db, steps(two))
	require.NoError(t, err)
	version, err := postgres.MigrateFrom(t.Context(), db, steps(map[string]string{"0001_a": `SELECT 1`}))
	require.ErrorContains(t, err, "install the newer padjig")
	assert.Equal(t, 2, version)
	_, err = postgres.MigrateFrom(t.Context(), db, steps(map[string]string{"0001_a": `SELECT 1`, "0002_other": `CREATE TABLE x (n bigint)`}))
	require.ErrorContains(t, err, "made by another program")
	assert.Equal(t, []string{"migration"}, tables(t, db))
}

// A program that is killed in the middle holds no lock any more, and what it did is gone.
func TestKilledWhileItMigrates(t *testing.T) {
	address := server.Empty(t)
	db, held := opened(t, address), opened(t, address)
	first := map[string]string{"0001_a": `CREATE TABLE a (n bigint)`}
	_, err := postgres.MigrateFrom(t.Context(), db, steps(first))
	require.NoError(t, err)
	hold, err := held.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	defer func() { _ = hold.Rollback() }()
	_, err = hold.ExecContext(t.Context(), `LOCK TABLE a`)
	require.NoError(t, err)

	all := maps.Clone(first)
	all["0002_b"] = `CREATE TABLE b (n bigint)`
	all["0003_c"] = `ALTER TABLE a ADD COLUMN m bigint`
	killed, waited := make(chan error, 1), make(chan error, 1)
	go func() {
		_, err := postgres.MigrateFrom(t.Context(), db, steps(all))
		killed <- err
	}()
	var pid int
	await(t, held, &pid, `SELECT coalesce((SELECT pid FROM pg_locks WHERE relation = 'a'::regclass AND NOT granted), 0)`)
	second := opened(t, address)
	go func() {
		_, err := postgres.MigrateFrom(t.Context(), second, steps(all))
		waited <- err
	}()
	var waiting int
	await(t, held, &waiting, `SELECT coalesce((SELECT pid FROM pg_locks WHERE locktype = 'advisory' AND NOT granted
		AND database = (SELECT oid FROM pg_database WHERE datname = current_database())), 0)`)
	_, err = held.ExecContext(t.Context(), `SELECT pg_terminate_backend(?)`, pid)
	require.NoError(t, err)
	require.Error(t, <-killed)
	require.NoError(t, hold.Rollback())
	require.NoError(t, <-waited, "whoever waited carries on from the beginning")
	assert.Equal(t, []string{"a", "b", "migration"}, tables(t, held))
}

// await asks until a number is not 0 any more.
func await(t *testing.T, db *sql.DB, number *int, question string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	for *number == 0 {
		require.NoError(t, db.QueryRowContext(ctx, question).Scan(number))
	}
}

// Texts sort and compare by their bytes, whatever the database was made for.
func TestDatabasesOfOtherLocales(t *testing.T) {
	admin := opened(t, server.Address("postgres"))
	t.Cleanup(func() {
		for _, name := range []string{"ascii", "german"} {
			_, err := admin.ExecContext(context.WithoutCancel(t.Context()), `DROP DATABASE IF EXISTS `+name+` WITH (FORCE)`)
			assert.NoError(t, err)
		}
	})
	_, err := admin.ExecContext(t.Context(), `CREATE DATABASE ascii ENCODING 'SQL_ASCII' LOCALE 'C' TEMPLATE template0`)
	require.NoError(t, err)
	ascii := opened(t, server.Address("ascii"))
	_, err = postgres.Migrate(t.Context(), ascii)
	require.ErrorContains(t, err, "ENCODING 'UTF8'")
	var left int
	require.NoError(t, ascii.QueryRowContext(t.Context(), `SELECT count(*) FROM pg_class WHERE relnamespace = 'public'::regnamespace`).Scan(&left))
	assert.Zero(t, left)

	_, err = admin.ExecContext(t.Context(), `CREATE DATABASE german ENCODING 'UTF8' LOCALE 'C' LOCALE_PROVIDER icu ICU_LOCALE 'de' TEMPLATE template0`)
	require.NoError(t, err)
	german := opened(t, server.Address("german"))
	_, err = postgres.Migrate(t.Context(), german)
	require.NoError(t, err)
	var names string
	require.NoError(t, german.QueryRowContext(t.Context(), `SELECT string_agg(v, '' ORDER BY v) FROM (VALUES ('a'), ('B')) AS x (v)`).Scan(&names))
	require.Equal(t, "aB", names, "else this database proves nothing")
	_, err = german.ExecContext(t.Context(), `INSERT INTO member (member, name, since_us) VALUES (1, 'a', 0), (2, 'B', 0), (3, 'ä', 0)`)
	require.NoError(t, err)
	require.NoError(t, german.QueryRowContext(t.Context(), `SELECT string_agg(name, '' ORDER BY name) FROM member`).Scan(&names))
	assert.Equal(t, "Baä", names)
	var others *string
	require.NoError(t, german.QueryRowContext(t.Context(), `
		SELECT string_agg(attrelid::regclass || '.' || attname, ' ')
		FROM pg_attribute JOIN pg_class ON pg_class.oid = attrelid
		WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p') AND attcollation <> 0
		  AND attcollation <> '"C"'::regcollation AND relname <> 'migration'`).Scan(&others))
	assert.Nil(t, others, "columns that sort otherwise")
}
