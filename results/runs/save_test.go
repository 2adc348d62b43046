package runs_test

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
)

// openTemp opens a fresh store that is closed when the test ends.
func openTemp(t *testing.T) *results.Store {
	t.Helper()
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "padjig.db"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

// The same id with another content would be two runs under one name.
func TestAnotherContentIsNotTakenForTheRun(t *testing.T) {
	s := openTemp(t)
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	r, err := runs.NewRecord(runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	r.ID = id // its times differ
	_, err = runs.Holds(t.Context(), s.Runs, r)
	assert.ErrorContains(t, err, "stored with another content")
}
