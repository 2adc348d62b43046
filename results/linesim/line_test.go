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
	require.NoError(t, s.ImportSimulated(t.Context(), l.Seed, entries, nil))
	return s
}

func TestStoredLineIsSound(t *testing.T) {
	s := stored(t, line(t, 3000))
	faults, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, faults)
}

// The same seed gives the same records down to their hashes, another one others.
func TestSameSeedSameRecords(t *testing.T) {
	ids := func(seed uint64) []string {
		l := line(t, 400)
		l.Seed = seed
		runs, err := stored(t, l).Runs.Recent(t.Context(), 400)
		require.NoError(t, err)
		var out []string
		for _, r := range runs {
			out = append(out, r.ID.String()+" "+r.Serial+" "+string(r.Outcome)+" "+r.Worst)
		}
		return out
	}
	first := ids(7)
	require.Len(t, first, 400)
	assert.Equal(t, first, ids(7))
	assert.NotEqual(t, first, ids(8))
}

func TestLinesThatCannotBe(t *testing.T) {
	_, err := Line{Zone: "Mars"}.Entries(t.Context())
	for _, want := range []string{"0 runs", `time zone "Mars"`, "there is no product"} {
		assert.ErrorContains(t, err, want)
	}
	for _, p := range line(t, 10).Story() {
		assert.NotEmpty(t, p.What)
		assert.Less(t, p.From, p.To)
	}
}
