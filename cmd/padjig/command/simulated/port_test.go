package simulated

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestPseudoPortLeavesWhatIsNotItsOwn(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "jig0")

	require.NoError(t, os.WriteFile(path, []byte("mine"), 0o644))
	_, err := OpenPort(path)
	require.ErrorContains(t, err, "there is something that is no link, and it stays")
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "mine", string(kept))
	require.NoError(t, os.Remove(path))

	for _, elsewhere := range []string{"/gone/records.sqlite", "records.sqlite", "/dev/null"} {
		require.NoError(t, os.Symlink(elsewhere, path), "a link that somebody made")
		_, err = OpenPort(path)
		require.ErrorContains(t, err, "is a link to "+elsewhere+", and it stays")
		require.NoError(t, os.Remove(path))
	}

	gone, err := OpenPort("")
	require.NoError(t, err)
	require.NoError(t, os.Symlink(filepath.Join(filepath.Dir(gone.Path()), "987654"), path), "left over from a jig that was killed")
	require.NoError(t, gone.Close())
	first, err := OpenPort(path)
	require.NoError(t, err)
	second, err := OpenPort(path)
	require.NoError(t, err)
	require.NoError(t, first.Close(), "its link is another's by now")
	target, err := os.Readlink(path)
	require.NoError(t, err)
	assert.Equal(t, second.far.Name(), target)
	require.NoError(t, second.Close())
	assert.NoFileExists(t, path)
}

func TestPseudoPortPassesEveryByte(t *testing.T) {
	port, err := OpenPort("")
	require.NoError(t, err)
	defer port.Close()
	client, err := os.OpenFile(port.Path(), os.O_RDWR, 0)
	require.NoError(t, err)
	defer client.Close()
	var every []byte
	for b := range 256 {
		every = append(every, byte(b))
	}
	for _, way := range []struct{ from, to *os.File }{{client, port.File}, {port.File, client}} {
		_, err = way.from.Write(every)
		require.NoError(t, err)
		got := make([]byte, len(every))
		for n := 0; n < len(got); {
			m, err := way.to.Read(got[n:])
			require.NoError(t, err)
			n += m
		}
		assert.Equal(t, every, got)
	}
}
