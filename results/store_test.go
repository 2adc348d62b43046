package results

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// openTemp opens a fresh store that is checked and closed when the test ends.
func openTemp(t testing.TB) *Store {
	t.Helper()
	return openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), testSeams())
}

// testSeams are the world, with a ballast that costs a test nothing.
func testSeams() store.Dependencies {
	with := store.Real()
	with.Ballast = 1 << 10
	return with
}

func openChecked(t testing.TB, path string, with store.Dependencies) *Store {
	t.Helper()
	s, err := OpenWith(t.Context(), path, with)
	require.NoError(t, err)
	t.Cleanup(func() { checkAndClose(t, s) })
	return s
}

func checkAndClose(t testing.TB, s *Store) {
	t.Helper()
	faults, err := s.Check(context.Background()) // the test's own context has ended
	require.NoError(t, err)
	assert.Empty(t, faults)
	require.NoError(t, s.Close())
}

func TestRoundTrip(t *testing.T) {
	s := openTemp(t)
	aborted := runstest.Passed("24-000003")
	aborted.Outcome, aborted.Reason = sequence.Aborted, "interlock opened"
	aborted.Keys, aborted.Seats, aborted.Steps = nil, nil, nil
	for _, run := range []sequence.Run{runstest.Passed("24-000001"), runstest.Failed("24-000002"), aborted} {
		id, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
		require.NoError(t, err)
		units, err := s.Runs.Unit(t.Context(), run.Serial)
		require.NoError(t, err)
		require.Len(t, units, 1)
		assert.Equal(t, run, units[0].Run)
		assert.Equal(t, id, units[0].ID)

		one, err := s.Runs.Run(t.Context(), id)
		require.NoError(t, err)
		assert.Equal(t, units[0], one)
	}
}

func TestUnitNeverTested(t *testing.T) {
	runs, err := openTemp(t).Runs.Unit(t.Context(), "24-999999")
	require.NoError(t, err)
	assert.Empty(t, runs)
}

func TestRunNotFound(t *testing.T) {
	_, err := openTemp(t).Runs.Run(t.Context(), store.NextID(time.Now(), store.ID{}))
	assert.ErrorIs(t, err, store.ErrNotFound)
}

func TestCreatesTheStoreAndItsLock(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(t.Context(), filepath.Join(dir, "a b?c#d%41.db"))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	var names []string
	for _, entry := range entries {
		names = append(names, entry.Name())
	}
	assert.Equal(t, []string{"a b?c#d%41.db", "a b?c#d%41.db-lock"}, names)
}
