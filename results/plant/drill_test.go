package plant_test

import (
	"context"
	"database/sql"
	"flag"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
	"padjig/results/plant/retention"
)

var drillRuns = flag.Int("drillruns", 12, "runs of each station in the drills of a plant")

// ownServer is a server that a test may kill, with its log of changes kept in a folder as it is written.
func ownServer(t *testing.T, settings ...string) (s *planttest.Server, archive string) {
	t.Helper()
	s, err := planttest.Make(folder(t), append([]string{"fsync=off", "synchronous_commit=off"}, settings...)...)
	require.NoError(t, err)
	archive = filepath.Join(s.Folder(), "archive")
	_, err = s.Tool("mkdir", archive)
	require.NoError(t, err)
	return s, archive
}

// folder is one with a short path, as sockets need it.
func folder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "plant")
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(dir)) })
	return dir
}

func opened(t *testing.T, address string) *sql.DB {
	t.Helper()
	db, err := postgres.Open(address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() })
	return db
}

// until asks until the answer is yes.
func until(t *testing.T, db *sql.DB, question string, args ...any) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	for yes := false; !yes; {
		require.NoError(t, db.QueryRowContext(ctx, question, args...).Scan(&yes))
		<-again.C
	}
}

func number(t *testing.T, db *sql.DB, question string) (n int64) {
	t.Helper()
	require.NoError(t, db.QueryRowContext(t.Context(), question).Scan(&n))
	return n
}

// moves brings so many batches of a station's records to the plant, each of few runs.
func moves(t *testing.T, db *sql.DB, records forward.Records, batches int) {
	t.Helper()
	f := &forward.Forwarder{Plant: db, Records: records, Member: "line-1"}
	defer f.Close()
	for range batches {
		_, err := f.Batch(t.Context(), 20**drillRuns)
		require.NoError(t, err)
	}
}

// The drill of docs/plant.md: a backup is taken while records come, more come, the server is gone with its disk, the backup and
// the kept log of changes become a server again, and the station forwards what the plant lacks.
func TestBackupDrill(t *testing.T) {
	s, archive := ownServer(t, "wal_level=replica", "archive_mode=on")
	require.NoError(t, s.Start("archive_command=test ! -f "+archive+"/%f && cp %p "+archive+"/%f"))
	alive := true
	defer func() {
		if alive {
			require.NoError(t, s.End(syscall.SIGINT))
		}
	}()
	db := opened(t, s.Empty(t))
	_, err := postgres.Migrate(t.Context(), db)
	require.NoError(t, err)
	_, err = forward.Join(t.Context(), db, "line-1")
	require.NoError(t, err)
	records := planttest.Records(t, *drillRuns, 1)

	moves(t, db, records, 1)
	backup := filepath.Join(s.Folder(), "backup")
	_, err = s.Tool("pg_basebackup", "-h", s.Folder(), "-U", "owner", "-D", backup, "-c", "fast", "-X", "stream")
	require.NoError(t, err)
	_, err = s.Tool("pg_verifybackup", backup)
	require.NoError(t, err)
	inBackup := number(t, db, `SELECT count(*) FROM run`)

	moves(t, db, records, 1)
	inLog := number(t, db, `SELECT count(*) FROM run`)
	require.Greater(t, inLog, inBackup)
	var closed string
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT pg_walfile_name(pg_switch_wal())`).Scan(&closed))
	until(t, db, `SELECT coalesce(last_archived_wal >= ?, false) FROM pg_stat_archiver`, closed)
	moves(t, db, records, 1)
	lost := number(t, db, `SELECT count(*) FROM run`) - inLog
	require.Positive(t, lost)
	require.NoError(t, s.End(syscall.SIGKILL))
	alive = false

	again := folder(t)
	require.NoError(t, os.Rename(backup, filepath.Join(again, "data")))
	restored, err := s.Beside(again, "fsync=off", "restore_command=cp "+archive+"/%f %p")
	require.NoError(t, err)
	_, err = restored.Write("data/recovery.signal", nil)
	require.NoError(t, err)
	require.NoError(t, restored.Start())
	defer func() { require.NoError(t, restored.End(syscall.SIGINT)) }()
	var name string
	require.NoError(t, opened(t, restored.Address("postgres")).QueryRowContext(t.Context(), `SELECT datname FROM pg_database WHERE datname LIKE 'plant%'`).Scan(&name))
	db = opened(t, restored.Address(name))
	until(t, db, `SELECT NOT pg_is_in_recovery()`)
	assert.Equal(t, inLog, number(t, db, `SELECT count(*) FROM run`), "what was in the kept log is there, what came after is not")

	m, err := forward.All(t.Context(), db, records, "line-1")
	require.NoError(t, err)
	assert.GreaterOrEqual(t, m.Runs, lost)
	checked, err := forward.Check(t.Context(), db, records, "line-1", func(int64, int64) {})
	require.NoError(t, err)
	assert.True(t, checked.Same(), "%v", checked.Differences)
	assert.EqualValues(t, *drillRuns, number(t, db, `SELECT count(*) FROM run`))
}

// A dump carries what is closed and guarded, too: restored, it is the same plant.
func TestDumpIsTheWholePlant(t *testing.T) {
	db := plantServer.Plant(t)
	records := planttest.Records(t, 5, 1)
	_, err := forward.All(t.Context(), db, records, "line-1")
	require.NoError(t, err)
	before, err := retention.ParseMonth("2026-04")
	require.NoError(t, err)
	_, err = (&retention.Retirement{DB: db, Before: before, Folder: t.TempDir(), By: "Ines", Now: time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC)}).Do(t.Context())
	require.NoError(t, err)

	var name string
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT current_database()`).Scan(&name))
	dump := filepath.Join(plantServer.Folder(), name+".dump")
	_, err = plantServer.Tool("pg_dump", "-h", plantServer.Folder(), "-U", "owner", "-Fc", "-f", dump, name)
	require.NoError(t, err)
	copied := opened(t, plantServer.Empty(t))
	var to string
	require.NoError(t, copied.QueryRowContext(t.Context(), `SELECT current_database()`).Scan(&to))
	_, err = plantServer.Tool("pg_restore", "-h", plantServer.Folder(), "-U", "owner", "-d", to, "--exit-on-error", dump)
	require.NoError(t, err)

	checked, err := forward.Check(t.Context(), copied, records, "line-1", func(int64, int64) {})
	require.NoError(t, err)
	assert.True(t, checked.Same(), "%v", checked.Differences)
	for statement, code := range map[string]string{
		`DELETE FROM run`: "42501",
		`INSERT INTO run_finding SELECT min(seq), 99, '', '', '', '', '', NULL, 0, NULL, NULL, '', NULL, NULL FROM run`: "23514",
		`SELECT month_of((SELECT min(seq) FROM run))`:                                                                   "55000",
	} {
		_, err = copied.ExecContext(t.Context(), statement)
		assert.Equal(t, code, postgres.Code(err), statement)
	}
	_, err = postgres.Migrate(t.Context(), copied)
	require.NoError(t, err)
}

// Who reads asks a replica, which has what the plant has, takes nothing, and goes on when the plant is down.
func TestReplicaForReaders(t *testing.T) {
	s, _ := ownServer(t, "wal_level=replica")
	require.NoError(t, s.Start())
	alive := true
	defer func() {
		if alive {
			require.NoError(t, s.End(syscall.SIGINT))
		}
	}()
	address := s.Empty(t)
	db := opened(t, address)
	_, err := postgres.Migrate(t.Context(), db)
	require.NoError(t, err)
	_, err = forward.Join(t.Context(), db, "line-1")
	require.NoError(t, err)
	records := planttest.Records(t, *drillRuns, 1)
	moves(t, db, records, 1)

	dir := folder(t)
	replica, err := s.Beside(dir, "fsync=off")
	require.NoError(t, err)
	_, err = s.Tool("pg_basebackup", "-h", s.Folder(), "-U", "owner", "-D", filepath.Join(dir, "data"), "-c", "fast", "-X", "stream", "-R")
	require.NoError(t, err)
	require.NoError(t, replica.Start())
	defer func() { require.NoError(t, replica.End(syscall.SIGINT)) }()
	_, err = forward.All(t.Context(), db, records, "line-1")
	require.NoError(t, err)
	var name, at string
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT current_database(), pg_current_wal_flush_lsn()::text`).Scan(&name, &at))
	readers := opened(t, replica.Address(name))
	until(t, readers, `SELECT coalesce(pg_last_wal_replay_lsn() >= ?::pg_lsn, false)`, at)

	ask := func(db *sql.DB) lines.Yields {
		y, err := results.Over(db, "plant").Lines.Yields(t.Context(), lines.Filter{}, lines.ByProduct, lines.ByJig)
		require.NoError(t, err)
		return y
	}
	there := ask(db)
	assert.Equal(t, there, ask(readers))
	_, err = forward.Join(t.Context(), readers, "line-2")
	assert.Equal(t, "25006", postgres.Code(err), "%v", err)

	require.NoError(t, s.End(syscall.SIGKILL))
	alive = false
	assert.Equal(t, there, ask(readers))
}
