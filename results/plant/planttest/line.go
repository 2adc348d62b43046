package planttest

import (
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/linesim"
	"padjig/sequence/product"
)

// begin is when simulated lines begin.
var begin = time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC)

// Records are those of a station whose simulated line made so many runs; another seed is another line.
func Records(t testing.TB, runs int, seed uint64) *results.Store {
	t.Helper()
	s := Unused(t)
	More(t, s, runs, seed)
	return s
}

// Unused are the records of a station that has tested nothing yet.
func Unused(t testing.TB) *results.Store {
	t.Helper()
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "records.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return s
}

// More lets a simulated line make more runs, days later by as many as seed says. Seeds have to ascend.
func More(t testing.TB, s *results.Store, runs int, seed uint64) {
	t.Helper()
	fill(t, s, linesim.Line{Runs: runs, Seed: seed, Begin: begin.AddDate(0, 0, int(seed))})
}

// Month lets a simulated line make runs that take a week, the next of a month, of units that no line of another seed has.
func Month(t testing.TB, s *results.Store, runs int, seed uint64, week int) {
	t.Helper()
	const jigs = 4
	fill(t, s, linesim.Line{Runs: runs, Seed: 1000*seed + uint64(week), Before: (4*int(seed) + week) * runs, Begin: begin.AddDate(0, 6, 7*week), Cycle: jigs * 7 * 24 * time.Hour / time.Duration(runs+jigs)})
}

func fill(t testing.TB, s *results.Store, l linesim.Line) {
	t.Helper()
	_, here, _, _ := runtime.Caller(0)
	p, err := product.Load(filepath.Join(filepath.Dir(here), "../../../testdata/products/gcc-20.yaml"))
	require.NoError(t, err)
	l.Product, l.Zone = p, "Europe/Vienna"
	entries, err := l.Entries(t.Context())
	require.NoError(t, err)
	require.NoError(t, s.ImportSimulated(t.Context(), l.Seed, entries, nil))
}
