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
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "records.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	More(t, s, runs, seed)
	return s
}

// More lets a simulated line make more runs, days later by as many as seed says. Seeds have to ascend.
func More(t testing.TB, s *results.Store, runs int, seed uint64) {
	t.Helper()
	_, here, _, _ := runtime.Caller(0)
	p, err := product.Load(filepath.Join(filepath.Dir(here), "../../../testdata/products/gcc-20.yaml"))
	require.NoError(t, err)
	l := linesim.Line{Product: p, Runs: runs, Seed: seed, Begin: begin.AddDate(0, 0, int(seed)), Zone: "Europe/Vienna"}
	entries, err := l.Entries(t.Context())
	require.NoError(t, err)
	require.NoError(t, s.ImportSimulated(t.Context(), seed, entries, nil))
}
