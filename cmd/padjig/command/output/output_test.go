package output

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestOutputRefusesLateComers: somebody else makes the file while ours is in the making.
func TestOutputRefusesLateComers(t *testing.T) {
	path := filepath.Join(t.TempDir(), "page.html")
	o, err := New(path, QualityPage, "")
	require.NoError(t, err)
	defer o.Drop()
	_, err = io.Copy(o, strings.NewReader("ours"))
	require.NoError(t, err)
	assert.NoFileExists(t, path, "nothing under its name before it is whole")
	require.NoError(t, os.WriteFile(path, []byte("theirs"), 0o644))
	require.ErrorContains(t, o.Keep(), "is there already")
	o.Drop()
	there, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "theirs", string(there))
	beside, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	assert.Len(t, beside, 1, "nothing is left over")

	require.NoError(t, os.Remove(path))
	r, err := NewRecording(path, "")
	require.NoError(t, err)
	_, err = NewRecording(path, "")
	require.ErrorContains(t, err, "is there already")
	require.NoError(t, r.Close())
	assert.NoFileExists(t, path, "nothing was said")
}
