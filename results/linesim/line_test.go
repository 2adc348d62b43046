package linesim

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/sequence/product"
)

func line(t testing.TB, runs int) Line {
	t.Helper()
	p, err := product.Load("../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	return Line{Product: p, Runs: runs, Seed: 7, Begin: time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC), Zone: "Europe/Vienna"}
}

func stored(t testing.TB, l Line) *results.Store {
	t.Helper()
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "line.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	entries, err := l.Entries(t.Context())
	require.NoError(t, err)
	require.NoError(t, s.Rehearse(t.Context(), l.Seed, entries, nil))
	return s
}

func TestStoredLineIsSound(t *testing.T) {
	s := stored(t, line(t, 3000))
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, faults)
}
