package results

import (
	"context"
	"database/sql"
	"encoding/binary"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// The layout of the tables was chosen by these measurements; docs/records.md
// has the figures of a million runs. Without the flag they run on a few, to
// show that all layouts give the same answers.
var million = flag.Bool("million", false, "measure layouts at a million runs")

func layoutRuns() int {
	if *million {
		return 1_000_000
	}
	return 2000
}

const (
	keysPerRun = 20
	batchRuns  = 1000 // runs in one transaction of the bulk load
	lotRuns    = 500  // runs one question asks about
)

// sampleKey is what one key left behind, in milliohm and microseconds.
type sampleKey struct{ closed, u, makes, makeCount, breaks, breakCount int64 }

func sampleRun(rng *rand.Rand) (keys [keysPerRun]sampleKey) {
	for i := range keys {
		keys[i] = sampleKey{
			closed: int64(120e3 + 15e3*rng.NormFloat64()), u: int64(350 + 20*rng.NormFloat64()),
			makes: rng.Int64N(4000), makeCount: rng.Int64N(9), breaks: rng.Int64N(2000), breakCount: rng.Int64N(5),
		}
	}
	return keys
}

// layout is one way to keep the keys of a run.
type layout struct {
	name   string
	tables string
	// perMilli is what a milliohm is stored as; 0 for the blob.
	perMilli float64
}

const keyColumns = `run INTEGER NOT NULL, place INTEGER NOT NULL, key INTEGER NOT NULL, passed INTEGER,
	closed %[1]s, closed_u %[1]s, at_least INTEGER, makes INTEGER, make_count INTEGER,
	breaks INTEGER, break_count INTEGER, forward INTEGER, forward_u INTEGER`

var layouts = []layout{
	{"rows, milliohm", rowTable("INTEGER", "PRIMARY KEY (run, place)", ", WITHOUT ROWID"), 1},
	{"rows, microohm", rowTable("INTEGER", "PRIMARY KEY (run, place)", ", WITHOUT ROWID"), 1000},
	{"rows, real ohm", rowTable("REAL", "PRIMARY KEY (run, place)", ", WITHOUT ROWID"), 1e-3},
	{"rows with rowid, milliohm", rowTable("INTEGER", "UNIQUE (run, place)", ""), 1},
	{"blob per run", `CREATE TABLE keys (run INTEGER PRIMARY KEY, packed BLOB NOT NULL) STRICT;`, 0},
}

func rowTable(number, unique, option string) string {
	return fmt.Sprintf(`CREATE TABLE keys (`+keyColumns+`, %[2]s) STRICT %[3]s;`, number, unique, option)
}

func TestLayout(t *testing.T) {
	t.Logf("%-26s %9s %9s %10s %12s %10s %10s", "layout", "MB", "runs/s", "unit", "commit p50", "lot", "all")
	var first keyStats
	for _, l := range layouts {
		m := l.measure(t, layoutRuns())
		t.Logf("%-26s %9.1f %9.0f %10v %12v %10v %10v", l.name, m.megabytes, m.perSecond,
			m.unit, m.commit, m.lot.Round(10*time.Microsecond), m.all.Round(10*time.Microsecond))
		if first == nil {
			first = m.stats
		}
		for key, want := range first {
			assert.InEpsilon(t, want.mean, m.stats[key].mean, 1e-9, "%s: mean of key %d", l.name, key)
			assert.InEpsilon(t, want.sd, m.stats[key].sd, 1e-6, "%s: spread of key %d", l.name, key)
		}
	}
}

type measured struct {
	megabytes, perSecond   float64
	unit, commit, lot, all time.Duration
	stats                  keyStats
}

func (l layout) measure(t *testing.T, runs int) (m measured) {
	path := filepath.Join(t.TempDir(), "layout.db")
	db := besides(t, path, "_journal_mode=WAL&_synchronous=FULL&_txlock=immediate&_busy_timeout=5000&_foreign_keys=1&_recursive_triggers=1&_stmt_cache_size=64")
	defer db.Close()
	_, err := db.Exec(`CREATE TABLE run (seq INTEGER PRIMARY KEY, serial TEXT NOT NULL) STRICT;
		CREATE INDEX run_serial ON run (serial);` + l.tables)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(1, 2))
	took := timed(t, func() error { return l.load(t.Context(), db, rng, runs) })
	m.perSecond = float64(runs) / took.Seconds()
	m.megabytes = float64(sizeOf(t, path)) / 1e6
	m.unit = l.units(t, db, rng, runs)
	m.lot = best(3, func() { l.means(t, db, runs/2, runs/2+lotRuns) })
	m.all = best(2, func() { m.stats = l.means(t, db, 0, runs) })
	m.commit = l.commits(t, db, rng, runs)
	return m
}

// load writes without waiting for the disk: it is not the loading that counts.
func (l layout) load(ctx context.Context, db *sql.DB, rng *rand.Rand, runs int) error {
	if _, err := db.Exec(`PRAGMA synchronous = OFF`); err != nil {
		return err
	}
	for first := 0; first < runs; first += batchRuns {
		tx, err := db.BeginTx(ctx, nil)
		if err != nil {
			return err
		}
		for seq := first; seq < min(first+batchRuns, runs); seq++ {
			if err := l.insert(tx, seq, sampleRun(rng)); err != nil {
				return err
			}
		}
		if err := tx.Commit(); err != nil {
			return err
		}
	}
	_, err := db.Exec(`PRAGMA wal_checkpoint(TRUNCATE); PRAGMA synchronous = FULL`)
	return err
}

func serialOf(seq int) string { return fmt.Sprintf("24-%08d", seq) }

func (l layout) insert(tx *sql.Tx, seq int, keys [keysPerRun]sampleKey) error {
	if _, err := tx.Exec(`INSERT INTO run VALUES (?, ?)`, seq, serialOf(seq)); err != nil {
		return err
	}
	if l.perMilli == 0 {
		_, err := tx.Exec(`INSERT INTO keys VALUES (?, ?)`, seq, pack(keys))
		return err
	}
	values := make([]any, 0, 13*keysPerRun)
	for place, k := range keys {
		values = append(values, seq, place, place+1, 1, l.number(k.closed), l.number(k.u), 0,
			k.makes, k.makeCount, k.breaks, k.breakCount, nil, nil)
	}
	row := "(" + store.Placeholders(13) + "), "
	_, err := tx.Exec("INSERT INTO keys VALUES "+strings.TrimSuffix(strings.Repeat(row, keysPerRun), ", "), values...)
	return err
}

func (l layout) number(milli int64) any {
	if l.perMilli < 1 {
		return float64(milli) / 1e3
	}
	return milli * int64(l.perMilli)
}

// pack takes 16 bytes a key.
func pack(keys [keysPerRun]sampleKey) []byte {
	var b []byte
	for i, k := range keys {
		b = append(b, byte(i+1), 1)
		b = binary.LittleEndian.AppendUint32(b, uint32(k.closed))
		b = binary.LittleEndian.AppendUint32(b, uint32(k.u))
		b = binary.LittleEndian.AppendUint16(b, uint16(k.makes))
		b = binary.LittleEndian.AppendUint16(b, uint16(k.breaks))
		b = append(b, byte(k.makeCount), byte(k.breakCount))
	}
	return b
}

// units looks up single units and gives the median.
func (l layout) units(t *testing.T, db *sql.DB, rng *rand.Rand, runs int) time.Duration {
	var times []time.Duration
	for range 500 {
		serial := serialOf(rng.IntN(runs))
		times = append(times, timed(t, func() error {
			rows, err := store.Collect(t.Context(), db, func(rows *sql.Rows) (string, error) { return "", rows.Err() },
				`SELECT keys.* FROM keys JOIN run ON run.seq = keys.run WHERE serial = ?`, serial)
			if want := map[bool]int{true: 1, false: keysPerRun}[l.perMilli == 0]; len(rows) != want {
				t.Errorf("%s: unit %s has %d rows", l.name, serial, len(rows))
			}
			return err
		}))
	}
	return quantile(times, 0.5)
}

func (l layout) commits(t *testing.T, db *sql.DB, rng *rand.Rand, runs int) time.Duration {
	var times []time.Duration
	for i := range 300 {
		keys := sampleRun(rng)
		times = append(times, timed(t, func() error {
			tx, err := db.Begin()
			if err != nil {
				return err
			}
			defer tx.Rollback()
			if err := l.insert(tx, runs+i, keys); err != nil {
				return err
			}
			return tx.Commit()
		}))
	}
	return quantile(times, 0.5)
}

type keyStats map[int64]struct{ mean, sd float64 }

// means is mean and standard deviation of every key, in ohm, over runs from up to before to.
func (l layout) means(t *testing.T, db *sql.DB, from, to int) keyStats {
	sums := map[int64][3]float64{}
	add := func(key int64, n, sum, squares float64) {
		s := sums[key]
		sums[key] = [3]float64{s[0] + n, s[1] + sum, s[2] + squares}
	}
	if l.perMilli == 0 {
		l.unpackInto(t, db, from, to, add)
	} else {
		l.groupInto(t, db, from, to, add)
	}
	stats := keyStats{}
	for key, s := range sums {
		mean := s[1] / s[0]
		stats[key] = struct{ mean, sd float64 }{mean, math.Sqrt(s[2]/s[0] - mean*mean)}
	}
	return stats
}

func (l layout) groupInto(t *testing.T, db *sql.DB, from, to int, add func(key int64, n, sum, squares float64)) {
	ohm := 1e3 * l.perMilli
	rows, err := db.Query(`SELECT key, count(closed), total(closed / ?), total((closed / ?) * (closed / ?))
		FROM keys WHERE run >= ? AND run < ? GROUP BY key`, ohm, ohm, ohm, from, to)
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var key int64
		var n, sum, squares float64
		require.NoError(t, rows.Scan(&key, &n, &sum, &squares))
		add(key, n, sum, squares)
	}
	require.NoError(t, rows.Err())
}

func (l layout) unpackInto(t *testing.T, db *sql.DB, from, to int, add func(key int64, n, sum, squares float64)) {
	rows, err := db.Query(`SELECT packed FROM keys WHERE run >= ? AND run < ?`, from, to)
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var b sql.RawBytes
		require.NoError(t, rows.Scan(&b))
		for ; len(b) > 0; b = b[16:] {
			ohm := float64(binary.LittleEndian.Uint32(b[2:])) / 1e3
			add(int64(b[0]), 1, ohm, ohm*ohm)
		}
	}
	require.NoError(t, rows.Err())
}

func best(times int, do func()) time.Duration {
	shortest := time.Duration(math.MaxInt64)
	for range times {
		start := time.Now()
		do()
		shortest = min(shortest, time.Since(start))
	}
	return shortest
}

// TestLayoutOfStore loads the real tables, with all their guards, and times what a
// station does.
func TestLayoutOfStore(t *testing.T) {
	runs := layoutRuns()
	path := filepath.Join(t.TempDir(), "padjig.db")
	s, err := OpenWith(t.Context(), path, testSeams())
	require.NoError(t, err)
	defer s.Close()
	rng := rand.New(rand.NewPCG(3, 4))
	took := timed(t, func() error { return bulk(t.Context(), s, rng, runs) })
	require.NoError(t, s.Room(t.Context()))
	_, err = raw(s).Exec(`PRAGMA wal_checkpoint(TRUNCATE)`)
	require.NoError(t, err)
	t.Logf("%d runs of %d keys, 9 pins, 24 steps: %.0f MB, loaded at %.0f runs/s",
		runs, keysPerRun, float64(sizeOf(t, path))/1e6, float64(runs)/took.Seconds())

	var units, histories, recents, saves []time.Duration
	for range 300 {
		serial := serialOf(rng.IntN(runs))
		units = append(units, timed(t, func() error { return second(s.Runs.Unit(t.Context(), serial)) }))
		histories = append(histories, timed(t, func() error { return second(s.Runs.History(t.Context(), serial)) }))
		recents = append(recents, timed(t, func() error { return second(s.Runs.Recent(t.Context(), 20)) }))
		run := twenty(rng, serial)
		saves = append(saves, timed(t, func() error { return second(s.Runs.Save(t.Context(), runstest.Climate(), run)) }))
	}
	t.Logf("median: Unit %v, History %v, Recent(20) %v, Save %v",
		quantile(units, 0.5), quantile(histories, 0.5), quantile(recents, 0.5), quantile(saves, 0.5))
	t.Logf("Open beside %v, quick_check %v", timed(t, func() error {
		other, err := Open(t.Context(), path)
		if err != nil {
			return err
		}
		return other.Close()
	}), timed(t, func() error { return second(raw(s).ExecContext(t.Context(), `PRAGMA quick_check`)) }))
	var faults []string
	t.Logf("Check %v", timed(t, func() (err error) { faults, err = s.Check(t.Context()); return err }))
	assert.Empty(t, faults)
}

// bulk stores runs through the writer of the store, many in one transaction,
// without waiting for the disk.
func bulk(ctx context.Context, s *Store, rng *rand.Rand, runs int) error {
	if _, err := raw(s).Exec(`PRAGMA synchronous = OFF`); err != nil {
		return err
	}
	var last store.ID
	for first := 0; first < runs; first += batchRuns {
		err := s.db.Update(ctx, func(tx *sql.Tx) error {
			b, err := s.Runs.Batch(ctx, tx)
			if err != nil {
				return err
			}
			for i := first; i < min(first+batchRuns, runs); i++ {
				if err := bulkOne(s, b, &last, twenty(rng, serialOf(i))); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	_, err := raw(s).Exec(`PRAGMA synchronous = FULL`)
	return err
}

func bulkOne(s *Store, b *runs.Batch, last *store.ID, run sequence.Run) error {
	now := s.db.Now()
	*last = store.NextID(now, *last)
	r, err := runs.Prepare(runstest.Climate(), run, *last, now, store.ThisStation())
	if err != nil {
		return err
	}
	return b.Add(r)
}

func sizeOf(t testing.TB, path string) int64 {
	info, err := os.Stat(path)
	require.NoError(t, err)
	return info.Size()
}

func second[A any](_ A, err error) error { return err }
