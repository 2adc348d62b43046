package retention_test

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"sync"
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

var server *planttest.Server

func TestMain(m *testing.M) { planttest.Run(m, &server) }

// now is when months are retired; the lines of these tests ran in March and, by the second's clock, in May 2026.
var now = time.Date(2026, 11, 30, 8, 0, 0, 0, time.UTC)

// filled is a plant with two stations, one with runs in March, one with runs in May. It is filled once, and copied.
func filled(t *testing.T) *sql.DB {
	t.Helper()
	fill.Do(func() {
		address := server.Empty(t)
		db, err := postgres.Open(address)
		require.NoError(t, err)
		defer db.Close() // nobody may be connected to what is copied
		_, err = postgres.Migrate(t.Context(), db)
		require.NoError(t, err)
		bring(t, db, "line-1", 1, 0)
		bring(t, db, "line-2", 2, -61*24*time.Hour)
		full = address
	})
	require.NotEmpty(t, full)
	db, err := postgres.Open(server.Like(t, full))
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() })
	return db
}

var (
	fill sync.Once
	full string // address of the plant that is copied
)

// bring forwards the records of a line, whose station's clock is ahead.
func bring(t *testing.T, db *sql.DB, name string, seed uint64, ahead time.Duration) *results.Store {
	t.Helper()
	_, err := forward.Join(t.Context(), db, name)
	require.NoError(t, err)
	records := planttest.Records(t, 15, seed)
	f := &forward.Forwarder{Plant: db, Records: records, Member: name, Now: func() time.Time { return time.Now().Add(ahead) }}
	defer f.Close()
	m, err := f.Batch(t.Context(), forward.UsualSize)
	require.NoError(t, err)
	require.False(t, m.More)
	return records
}

func retire(t *testing.T, db *sql.DB, folder string) *retention.Retirement {
	t.Helper()
	before, err := retention.ParseMonth("2026-05")
	require.NoError(t, err)
	return &retention.Retirement{DB: db, Before: before, Folder: folder, By: "Ines", Now: now}
}

func count(t *testing.T, db *sql.DB, question string, args ...any) (n int64) {
	t.Helper()
	require.NoError(t, db.QueryRowContext(t.Context(), question, args...).Scan(&n))
	return n
}

const april = 2282 * 24 * 3600 * 1000 * 4096 // 2026-04-01 is so many days after 2020-01-01

func readings(t *testing.T, db *sql.DB) map[string]int64 {
	t.Helper()
	all := map[string]int64{}
	for _, table := range retention.Readings {
		all[table] = count(t, db, `SELECT count(*) FROM `+table+` WHERE run < ?`, int64(april)+30*24*3600*1000*4096)
	}
	return all
}

func TestReadingsGoAndAnswersStay(t *testing.T) {
	db := filled(t)
	ask := func() lines.Yields {
		y, err := results.Over(db, "plant").Lines.Yields(t.Context(), lines.Filter{}, lines.ByProduct, lines.ByJig)
		require.NoError(t, err)
		return y
	}
	before, march, all := ask(), readings(t, db), count(t, db, `SELECT count(*) FROM run`)
	require.Positive(t, march["run_key"])
	may := count(t, db, `SELECT count(*) FROM run_key`) - march["run_key"]
	require.Positive(t, may)

	folder := t.TempDir()
	done, err := retire(t, db, folder).Do(t.Context())
	require.NoError(t, err)
	require.Len(t, done, 1)
	assert.Equal(t, "2026-03", done[0].Month.String())
	assert.EqualValues(t, 15, done[0].Runs)
	assert.EqualValues(t, april, done[0].Month.High())

	assert.Equal(t, before, ask())
	assert.Equal(t, all, count(t, db, `SELECT count(*) FROM run`))
	assert.Equal(t, may, count(t, db, `SELECT count(*) FROM run_key`))
	assert.EqualValues(t, april, count(t, db, `SELECT open_from()`))
	assert.EqualValues(t, 1, count(t, db, `SELECT count(*) FROM retired_month WHERE runs = 15 AND dropped_us IS NOT NULL AND by = 'Ines' AND manifest = ?`, done[0].Manifest))
	for table, n := range march {
		rows, err := retention.ReadRows(filepath.Join(folder, "2026-03", table+".parquet"))
		require.NoError(t, err)
		assert.Equal(t, n, rows, table)
	}

	_, err = db.ExecContext(t.Context(), `SELECT month_of(?)`, int64(april)-1)
	assert.Equal(t, "55000", postgres.Code(err), "%v", err)
	again, err := retire(t, db, folder).Do(t.Context())
	require.NoError(t, err)
	assert.Empty(t, again)
}

// A station that was away brings runs of a month that went: they are stored in the first that is open, whole, with the times that they have.
func TestRunsThatComeLate(t *testing.T) {
	db := filled(t)
	_, err := retire(t, db, t.TempDir()).Do(t.Context())
	require.NoError(t, err)
	records := bring(t, db, "line-3", 3, 0)
	assert.EqualValues(t, 15, count(t, db, `SELECT count(*) FROM run WHERE member = 3 AND seq >= ? AND saved_us < 1775001600000000`, int64(april)))
	assert.Equal(t, count(t, db, `SELECT sum(keys) FROM run WHERE member = 3`), count(t, db, `SELECT count(*) FROM run_key WHERE run & 4095 = 3`))

	// Those that came before go on from there, although their newest run has no readings here any more.
	f := &forward.Forwarder{Plant: db, Records: records, Member: "line-3"}
	m, err := f.Batch(t.Context(), forward.UsualSize)
	require.NoError(t, err)
	assert.Zero(t, m.Rows)
	f.Close()
}

// A station of which everything that came has gone to files goes on from there.
func TestStationWhoseMonthWent(t *testing.T) {
	db := server.Plant(t)
	records := bring(t, db, "line-1", 1, 0)
	_, err := retire(t, db, t.TempDir()).Do(t.Context())
	require.NoError(t, err)
	f := &forward.Forwarder{Plant: db, Records: records, Member: "line-1"}
	defer f.Close()
	m, err := f.Batch(t.Context(), forward.UsualSize)
	require.NoError(t, err)
	assert.Zero(t, m.Rows)
	checked, err := forward.Check(t.Context(), db, records, "line-1", func(int64, int64) {})
	require.NoError(t, err)
	assert.True(t, checked.Same(), "%v", checked.Differences)
}

// Whatever is cut short, nothing is lost, and doing it again brings it to its end.
func TestCutShortAtEveryStep(t *testing.T) {
	db, folder := filled(t), t.TempDir()
	whole, cut := readings(t, db), errors.New("cut short")
	for n := 1; ; n++ {
		require.Less(t, n, 100)
		r, told := retire(t, db, folder), 0
		dropped := false
		r.Told = func(_ retention.Month, step retention.Step, _, _ int64) error {
			dropped = dropped || step == retention.Dropped
			if told++; told == n {
				return cut
			}
			return nil
		}
		_, err := r.Do(t.Context())
		if dropped {
			break
		}
		require.ErrorIs(t, err, cut)
		require.Equal(t, whole, readings(t, db), "after %d steps", n)
	}
	for table, n := range whole {
		rows, err := retention.ReadRows(filepath.Join(folder, "2026-03", table+".parquet"))
		require.NoError(t, err)
		assert.Equal(t, n, rows, table)
		assert.Zero(t, readings(t, db)[table])
	}
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, entries, 1, "no remains")
}

// Files that are not what the plant has take nothing out, whatever is wrong with them.
func TestFilesThatAreNotTheRows(t *testing.T) {
	db := filled(t)
	whole := readings(t, db)
	change := func(name string, do func([]byte) []byte) func(t *testing.T, folder string) {
		return func(t *testing.T, folder string) {
			path := filepath.Join(folder, "2026-03", name)
			b, err := os.ReadFile(path)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(path, do(b), 0o644))
		}
	}
	other := t.TempDir()
	func() { // files of another plant, well made
		db := server.Plant(t)
		bring(t, db, "line-9", 9, 0)
		_, err := retire(t, db, other).Do(t.Context())
		require.NoError(t, err)
	}()
	for name, spoil := range map[string]func(t *testing.T, folder string){
		"a bit":      change("run_key.parquet", func(b []byte) []byte { b[len(b)/2] ^= 1; return b }),
		"the end":    change("run_key.parquet", func(b []byte) []byte { return b[:len(b)-1] }),
		"emptied":    change("run.parquet", func([]byte) []byte { return nil }),
		"a manifest": change("manifest.json", func(b []byte) []byte { return b[:len(b)/2] }),
		"its month": change("manifest.json", func(b []byte) []byte {
			return []byte(`{"form": 1, "month": "2026-02"}`)
		}),
		"no entries": change("manifest.json", func(b []byte) []byte {
			return []byte(`{"form": 1, "month": "2026-03"}`)
		}),
		"gone": func(t *testing.T, folder string) {
			require.NoError(t, os.Remove(filepath.Join(folder, "2026-03", "run_seat.parquet")))
		},
		"of another plant": func(t *testing.T, folder string) {
			require.NoError(t, os.RemoveAll(filepath.Join(folder, "2026-03")))
			require.NoError(t, os.CopyFS(filepath.Join(folder, "2026-03"), os.DirFS(filepath.Join(other, "2026-03"))))
		},
	} {
		t.Run(name, func(t *testing.T) {
			r := retire(t, db, t.TempDir())
			r.Told = func(_ retention.Month, step retention.Step, _, _ int64) error {
				if step == retention.Exported {
					spoil(t, r.Folder)
				}
				return nil
			}
			_, err := r.Do(t.Context())
			_, is := errors.AsType[*retention.OtherFilesError](err)
			require.True(t, is, "%v", err)
			require.Equal(t, whole, readings(t, db))
			assert.Zero(t, count(t, db, `SELECT count(*) FROM retired_month WHERE dropped_us IS NOT NULL`))
		})
	}
}

func TestNobodyElseMeanwhile(t *testing.T) {
	db := filled(t)
	r := retire(t, db, t.TempDir())
	r.Told = func(m retention.Month, step retention.Step, _, _ int64) error {
		if step != retention.Closed {
			return nil
		}
		_, err := retire(t, db, t.TempDir()).Do(t.Context())
		require.ErrorIs(t, err, retention.ErrBusy)
		_, err = db.ExecContext(t.Context(), `INSERT INTO run_step (run, place, step, done, took_us) SELECT run, 99, step, done, took_us FROM run_step ORDER BY run LIMIT 1`)
		require.Equal(t, "23514", postgres.Code(err), "nothing comes into a month that is closed: %v", err)
		return nil
	}
	_, err := r.Do(t.Context())
	require.NoError(t, err)

	r.Before, err = retention.ParseMonth("2026-12")
	require.NoError(t, err)
	_, err = r.Do(t.Context())
	require.ErrorIs(t, err, retention.ErrNotOver)
	r = retire(t, db, filepath.Join(t.TempDir(), "none"))
	_, err = r.Do(t.Context())
	require.Error(t, err)
	_, err = retention.ParseMonth("March")
	require.Error(t, err)
}

// Who writes when a month is closed is waited for, and what it wrote goes too; who reads is not ended.
func TestThoseWhoAreAtIt(t *testing.T) {
	db := filled(t)
	writer, err := db.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	_, err = writer.ExecContext(t.Context(), `INSERT INTO run_step (run, place, step, done, took_us) SELECT run, 99, step, done, took_us FROM run_step ORDER BY run LIMIT 1`)
	require.NoError(t, err)
	r, checked, reading := retire(t, db, t.TempDir()), make(chan struct{}), make(chan struct{})
	r.Told = func(_ retention.Month, step retention.Step, _, _ int64) error {
		if step == retention.Checked {
			close(checked)
			<-reading
		}
		return nil
	}
	ended := make(chan error, 1)
	go func() {
		_, err := r.Do(t.Context())
		ended <- err
	}()
	await(t, db, "ShareRowExclusiveLock", "AccessExclusiveLock")
	require.NoError(t, writer.Commit())
	<-checked
	reader, err := db.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	read := func() error {
		var n int64
		return reader.QueryRowContext(t.Context(), `SELECT count(*) FROM run_key`).Scan(&n)
	}
	require.NoError(t, read())
	close(reading)
	await(t, db, "AccessExclusiveLock")
	require.NoError(t, read())
	require.NoError(t, reader.Commit())
	require.NoError(t, <-ended)
	rows, err := retention.ReadRows(filepath.Join(r.Folder, "2026-03", "run_step.parquet"))
	require.NoError(t, err)
	assert.Equal(t, count(t, db, `SELECT sum(steps) + 1 FROM run WHERE seq < ?`, int64(april)), rows)
}

// await asks until somebody waits for a lock of one of these kinds in this database.
func await(t *testing.T, db *sql.DB, modes ...string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	for n := 0; n == 0; {
		require.NoError(t, db.QueryRowContext(ctx, `SELECT count(*) FROM pg_locks JOIN pg_database ON pg_database.oid = database
			WHERE datname = current_database() AND NOT granted AND mode = ANY(?)`, modes).Scan(&n))
	}
}
