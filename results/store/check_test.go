package store

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestStartCheck(t *testing.T) {
	for name, c := range map[string]struct {
		size    int64
		crashed bool
		want    string
	}{
		"small":                {smallFile, false, "PRAGMA integrity_check(10)"},
		"small, after a crash": {smallFile, true, "PRAGMA integrity_check(10)"},
		"large":                {smallFile + 1, false, ""},
		"large, after a crash": {smallFile + 1, true, "PRAGMA quick_check(10)"},
	} {
		assert.Equal(t, c.want, startCheck(c.size, c.crashed), name)
	}
}

// A log left behind means a crash only when nobody else is there.
func TestPresence(t *testing.T) {
	path := t.TempDir() + "/lock"
	first, alone, err := announce(path)
	require.NoError(t, err)
	assert.True(t, alone)
	during, alone, err := announce(path) // while the first one checks
	require.NoError(t, err)
	assert.False(t, alone)
	first.share()
	second, alone, err := announce(path)
	require.NoError(t, err)
	assert.False(t, alone)
	second.share()
	require.NoError(t, first.leave())
	third, alone, err := announce(path)
	require.NoError(t, err)
	assert.False(t, alone, "the second one is still there")
	for _, p := range []presence{during, second, third} {
		require.NoError(t, p.leave())
	}
	last, alone, err := announce(path)
	require.NoError(t, err)
	assert.True(t, alone)
	require.NoError(t, last.leave())
	require.NoError(t, presence{}.leave())
}
