package results_test

import (
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/linesim"
	"padjig/sequence"
	"padjig/sequence/product"
)

// simulatedLine is a store with what a simulated line did.
//
// One of a length is simulated once; each test gets a copy of its own.
func simulatedLine(t testing.TB, runs int) *results.Store {
	t.Helper()
	made, _ := linesMade.LoadOrStore(runs, sync.OnceValues(func() ([]byte, error) { return simulateLine(t, runs) }))
	records, err := made.(func() ([]byte, error))()
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "line.sqlite")
	require.NoError(t, os.WriteFile(path, records, 0o644))
	s, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return s
}

// linesMade are the records of simulated lines, each a function that gives its
// bytes, by the number of runs.
var linesMade sync.Map

func simulateLine(t testing.TB, runs int) ([]byte, error) {
	p, err := product.Load("../testdata/products/gcc-20.yaml")
	if err != nil {
		return nil, err
	}
	l := linesim.Line{Product: p, Runs: runs, Seed: 7, Begin: time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC), Zone: "Europe/Vienna"}
	path := filepath.Join(t.TempDir(), "line.sqlite")
	s, err := results.Open(t.Context(), path)
	if err != nil {
		return nil, err
	}
	entries, err := l.Entries(t.Context())
	if err == nil {
		err = s.ImportSimulated(t.Context(), l.Seed, entries, nil)
	}
	if err := errors.Join(err, s.Close()); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
}

// raw asks the records themselves, on a connection beside the store's own.
func raw[T any](t testing.TB, s *results.Store, scan func(*sql.Rows) (T, error), query string, args ...any) []T {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+s.Path()+"?mode=ro")
	require.NoError(t, err)
	defer db.Close()
	rows, err := db.Query(query, args...)
	require.NoError(t, err)
	defer rows.Close()
	var list []T
	for rows.Next() {
		v, err := scan(rows)
		require.NoError(t, err)
		list = append(list, v)
	}
	require.NoError(t, rows.Err())
	return list
}

// judgedFirst numbers the judged runs of each unit, from the records alone.
const judgedFirst = `
	WITH judged AS (
		SELECT run.seq, run.serial, revision.label AS revision, jig.serial AS jig, outcome, started_us,
		       row_number() OVER unit AS turn, lag(outcome) OVER unit AS before,
		       last_value(outcome) OVER (unit ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING) AS finally
		FROM run JOIN revision USING (revision) JOIN jig USING (jig)
		WHERE outcome IN ('pass', 'fail') WINDOW unit AS (PARTITION BY run.serial ORDER BY seq))`

// The whole of what the sums say is what the records say, at a size at which
// every planted thing has happened.
func TestSumsAreWhatTheRecordsSay(t *testing.T) {
	s := simulatedLine(t, 20_000)
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	require.Empty(t, faults)

	t.Run("yields", func(t *testing.T) {
		y, err := s.Lines.Yields(t.Context(), lines.Filter{Simulated: true}, lines.ByJig, lines.ByRevision, lines.ByHour)
		require.NoError(t, err)
		var got []string
		for _, r := range y.Rows {
			got = append(got, fmt.Sprint(r.Groups, r.Units, r.FirstPassed, r.LastPassed, r.Retests, r.Cures, r.Relapses))
		}
		want := raw(t, s, func(rows *sql.Rows) (string, error) {
			var g [3]string
			var n [6]int
			err := rows.Scan(&g[0], &g[1], &g[2], &n[0], &n[1], &n[2], &n[3], &n[4], &n[5])
			return fmt.Sprint(g[:], n[0], n[1], n[2], n[3], n[4], n[5]), err
		}, judgedFirst+`
			SELECT jig, revision, strftime('%Y-%m-%dT%H:00Z', started_us / 1000000, 'unixepoch') AS hour,
			       sum(turn = 1), sum(turn = 1 AND outcome = 'pass'), sum(turn = 1 AND finally = 'pass'), sum(turn > 1),
			       sum(turn > 1 AND outcome = 'pass' AND before = 'fail'), sum(turn > 1 AND outcome = 'fail' AND before = 'pass')
			FROM judged GROUP BY jig, revision, hour ORDER BY jig, revision, hour`)
		assert.Greater(t, len(want), 100)
		assert.Equal(t, want, got)
		assert.Equal(t, 20_000, y.Total.Runs)
	})

	t.Run("causes", func(t *testing.T) {
		c, err := s.Lines.Causes(t.Context(), lines.Filter{Simulated: true}, lines.CauseByPlace)
		require.NoError(t, err)
		want := raw(t, s, func(rows *sql.Rows) (c lines.Cause, err error) {
			return c, rows.Scan(&c.Name, &c.Worst, &c.Units, &c.Runs)
		}, judgedFirst+`, found AS (SELECT run, what || ': ' || location AS name, min(place) AS place FROM run_finding
			GROUP BY run, name)
			SELECT name, sum(turn = 1 AND place = 0), sum(turn = 1), count(*)
			FROM found JOIN judged ON seq = run GROUP BY name ORDER BY 2 DESC, 3 DESC, 4 DESC, 1`)
		assert.Equal(t, want, c.Rows)
		assert.Equal(t, c.Failed, sum(c.Rows), "every failed unit has one worst finding")
	})

	t.Run("piles", func(t *testing.T) {
		histograms, err := s.Lines.KeyHistograms(t.Context(), lines.Filter{Simulated: true, Revisions: []string{"C"}})
		require.NoError(t, err)
		type sums struct{ n, sum, squares, least, most int64 }
		want := raw(t, s, func(rows *sql.Rows) (k sums, err error) {
			return k, rows.Scan(&k.n, &k.sum, &k.squares, &k.least, &k.most)
		}, judgedFirst+`
			SELECT count(*), sum(closed_mohm), sum(closed_mohm * closed_mohm), min(closed_mohm), max(closed_mohm)
			FROM judged JOIN run_key ON run = seq WHERE turn = 1 AND revision = 'C' AND closed_at_least = 0
			GROUP BY place ORDER BY place`)
		require.Len(t, histograms, 20)
		for i, w := range want {
			p := histograms[i]
			assert.Equal(t, w, sums{p.N, p.Sum, p.Squares.Int64(), p.Least, p.Most}, "key %s", p.Key)
			var binned int64
			for _, n := range p.Bins {
				binned += n
			}
			assert.Equal(t, p.N, binned)
		}
	})

	t.Run("last readings", func(t *testing.T) {
		f := lines.Filter{Simulated: true, Jigs: []string{"J-0042"}, Revisions: []string{"D"}}
		got, err := s.Lines.Readings(t.Context(), f, lines.Contact, []string{"5"}, 300)
		require.NoError(t, err)
		values := []float64{}
		for _, p := range got.Points {
			values = append(values, p.Value)
		}
		want := raw(t, s, func(rows *sql.Rows) (v float64, err error) { return v, rows.Scan(&v) }, judgedFirst+`
			SELECT closed_mohm / 1e3 FROM (SELECT * FROM judged WHERE turn = 1 AND jig = 'J-0042' AND revision = 'D'
			                               ORDER BY seq DESC LIMIT 300)
			JOIN run_key ON run = seq WHERE place = 5 AND closed_at_least = 0 ORDER BY seq`)
		assert.Len(t, values, 300-got.Beyond)
		assert.Equal(t, want, values)
	})

	t.Run("lots", func(t *testing.T) {
		y, err := s.Lines.Yields(t.Context(), lines.Filter{Simulated: true}, lines.ByMembrane)
		require.NoError(t, err)
		require.Len(t, y.Rows, 16)
		for _, row := range y.Rows {
			assert.InDelta(t, 20_000/16, row.Runs, 4, "%v", row.Groups)
		}
		assert.True(t, y.Mixed.Any(), "two revisions with different limits are named")
	})

	t.Run("last units", func(t *testing.T) {
		last, err := s.Lines.LastUnits(t.Context(), lines.Filter{Simulated: true}, 50)
		require.NoError(t, err)
		want := raw(t, s, func(rows *sql.Rows) (n int64, err error) { return n, rows.Scan(&n) },
			judgedFirst+`SELECT seq FROM judged WHERE turn = 1 ORDER BY seq DESC LIMIT 50`)
		slices.Reverse(want)
		var got []int64
		for _, j := range last {
			got = append(got, j.Seq)
			assert.Equal(t, j.Passed, j.Fault == "")
		}
		assert.Equal(t, want, got)
	})

	t.Run("what was planted is found", func(t *testing.T) {
		places, err := s.Lines.Places(t.Context(), lines.Filter{Simulated: true})
		require.NoError(t, err)
		top := places[0]
		assert.Equal(t, "J-0042", top.Jig)
		assert.Equal(t, "key open: key HEAT (R2-C4)", top.Name)
		happened, err := s.Lines.Events(t.Context(), lines.Filter{Simulated: true, Jigs: []string{"J-0043"}})
		require.NoError(t, err)
		kinds := map[lines.EventKind]int{}
		for _, h := range happened {
			kinds[h.Kind]++
			assert.Contains(t, []string{"", "J-0043"}, h.Jig)
		}
		assert.Equal(t, map[lines.EventKind]int{"lot": 19, "calibration": 10, "replaced": 1, "revision": 1}, kinds,
			"what came before the jig's first run explains nothing")
	})

	t.Run("real runs are apart", func(t *testing.T) {
		y, err := s.Lines.Yields(t.Context(), lines.Filter{})
		require.NoError(t, err)
		assert.Empty(t, y.Rows)
	})
}

func sum(causes []lines.Cause) (n int) {
	for _, c := range causes {
		n += c.Worst
	}
	return n
}

func TestSelectionsThatCannotBeAnswered(t *testing.T) {
	s := simulatedLine(t, 1000)
	early := lines.Filter{Simulated: true, Revisions: []string{"C"}}
	none := early
	none.From = time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC)
	for name, c := range map[string]struct {
		f    lines.Filter
		keys []string
		want string
	}{
		"empty range": {none, []string{"1"}, "no unit was judged in this selection: revision C, from 2030-01-01 00:00 UTC, SIMULATED"},
		"mixed limits": {lines.Filter{Simulated: true}, []string{"1"},
			"revisions C (590 units) and D (388 units) of GCC-20 judge by different limits (keys 1, 2, 3, VENT, 4 and 15 more): choose one revision"},
		"missing keys": {early, []string{"1", "F1", "F2"}, "F1, F2: no such key in the selection; its keys are 1 2 3 VENT 4"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := s.Lines.Readings(t.Context(), c.f, lines.Contact, c.keys, 100)
			assert.ErrorContains(t, err, c.want)
			_, err = s.Lines.KeyHistograms(t.Context(), c.f, c.keys...)
			assert.ErrorContains(t, err, c.want)
		})
	}
}

// What a filter writes it reads back the same.
func TestFilterRoundTrip(t *testing.T) {
	word := rapid.StringMatching(`[A-Za-z0-9<>&=;% -]{0,6}[A-Za-z0-9]`)
	words := rapid.SliceOfNDistinct(word, 0, 3, rapid.ID)
	rapid.Check(t, func(t *rapid.T) {
		f := lines.Filter{
			Product: rapid.SampledFrom([]string{"", "GCC-20"}).Draw(t, "product"), Simulated: rapid.Bool().Draw(t, "simulated"),
			Actuation: rapid.SampledFrom([]sequence.Actuation{"", sequence.Hand, sequence.Mechanical}).Draw(t, "press"),
		}
		for _, list := range []*[]string{&f.Revisions, &f.Lots, &f.Jigs, &f.Shifts, &f.Operators} {
			if w := words.Draw(t, "list"); len(w) > 0 {
				*list = trimmed(w)
			}
		}
		if rapid.Bool().Draw(t, "bounded") {
			f.From = time.UnixMicro(rapid.Int64Range(0, 2e15).Draw(t, "from")).UTC()
			f.To = f.From.Add(time.Duration(rapid.Int64Range(1, 1e15).Draw(t, "span")))
		}
		v, err := url.ParseQuery(f.Values().Encode())
		require.NoError(t, err)
		got, err := lines.ParseFilter(v, time.UTC)
		require.NoError(t, err)
		f.Zone = time.UTC
		assert.Equal(t, f, got)
	})
}

func trimmed(words []string) []string {
	var out []string
	for _, w := range words {
		for len(w) > 0 && w[0] == ' ' {
			w = w[1:]
		}
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return out
}

func TestFilterSaysEveryMistake(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	require.NoError(t, err)
	_, err = lines.ParseFilter(url.Values{"from": {"yesterday"}, "to": {"2026-13-40"}, "actuation": {"foot"}, "simulated": {"maybe"}}, vienna)
	for _, want := range []string{`from "yesterday" is no time`, `to "2026-13-40" is no time`, `actuation "foot"`, `simulated "maybe"`} {
		assert.ErrorContains(t, err, want)
	}
	_, err = lines.ParseFilter(url.Values{"press": {"hand"}}, vienna)
	assert.ErrorContains(t, err, "press is called actuation now: write actuation=hand")
	_, err = lines.ParseFilter(url.Values{"from": {"2026-03-05"}, "to": {"2026-03-02"}}, vienna)
	assert.ErrorContains(t, err, "from 2026-03-05 is not before to 2026-03-02: no run can be in between")

	f, err := lines.ParseFilter(url.Values{"from": {"2026-03-02"}, "to": {"2026-03-02"}}, vienna)
	require.NoError(t, err)
	assert.Equal(t, "2026-03-01T23:00:00Z", f.From.Format(time.RFC3339), "a day begins at midnight of the zone")
	assert.Equal(t, "2026-03-02T23:00:00Z", f.To.Format(time.RFC3339), "and is chosen whole")
}
