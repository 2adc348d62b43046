package store

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// openTemp opens a fresh store that is closed when the test ends.
func openTemp(t *testing.T) *DB {
	t.Helper()
	return opened(t, filepath.Join(t.TempDir(), "padjig.db"), forTests())
}

// forTests are dependencies with a ballast that costs a test nothing.
func forTests() Dependencies {
	with := Real()
	with.Ballast = 1 << 10
	return with
}

func opened(t *testing.T, path string, with Dependencies) *DB {
	t.Helper()
	s, err := Open(t.Context(), path, with)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}
