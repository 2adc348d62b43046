package handoff

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// read takes every file of a folder, in the order of their names. One whose name begins with
// a dot is not whole yet.
func read(t *testing.T, path string) *taken {
	t.Helper()
	r := &taken{}
	files, err := os.ReadDir(path)
	require.NoError(t, err)
	for _, f := range files {
		if strings.HasPrefix(f.Name(), ".") {
			continue
		}
		require.Regexp(t, `^[0-9]{12}-24-[0-9]{6}-run-[0-9a-f]{8}\.json$`, f.Name())
		body, err := os.ReadFile(filepath.Join(path, f.Name()))
		require.NoError(t, err)
		r.take(body)
	}
	return r
}

// A folder that is gone is waited for and told of, and is never made: what is mounted there
// may be missing. Then all is there, in the order of the names, and nothing else.
func TestFolderBothSidesEqual(t *testing.T) {
	h, path := newHouse(t), filepath.Join(t.TempDir(), "share")
	end := h.hand(quick{folder{path}})
	h.save(1, 2, 3)
	eventually(t, func() bool { _, _, why := h.progress(); return strings.Contains(why, "no such file") })
	assert.NoDirExists(t, path)
	require.NoError(t, os.Mkdir(path, 0o755))
	h.save(4, 5)
	eventually(t, func() bool { return len(read(t, path).ids) == 5 })
	end()
	read(t, path).sound(h)
}

// What was written before a crash is not written anew, nor over: a file of that name with
// something else in it stops the receiver. What a crash left half written is no file.
func TestFolderWritesNothingOver(t *testing.T) {
	f := folder{t.TempDir()}
	m := Message{ID: "0192f3a1-7c2e-4b5d-9a51-3f0c2d7e8b64", Number: 7, Kind: "run", Unit: "../GCC 1/é", Body: []byte("{}")}
	require.NoError(t, os.WriteFile(filepath.Join(f.path, "."+fileName(m)+".part"), []byte(`{"half`), 0o600))
	require.NoError(t, f.Send(t.Context(), m))
	require.NoError(t, f.Send(t.Context(), m), "it is there")
	files, err := os.ReadDir(f.path)
	require.NoError(t, err)
	require.Len(t, files, 1)
	assert.Equal(t, "000000000007-___GCC_1__-run-0192f3a1.json", files[0].Name())
	whole := filepath.Join(f.path, files[0].Name())

	require.NoError(t, os.WriteFile(whole, []byte("theirs"), 0o600))
	_, refused := errors.AsType[*RefusedError](f.Send(t.Context(), m))
	assert.True(t, refused)
	assert.ErrorIs(t, named(filepath.Join(f.path, "no such part"), whole), os.ErrNotExist)
	part := filepath.Join(f.path, "part")
	require.NoError(t, os.WriteFile(part, []byte("ours"), 0o600))
	assert.ErrorIs(t, named(part, whole), os.ErrExist, "it came in between")
	text, err := os.ReadFile(whole)
	require.NoError(t, err)
	assert.Equal(t, "theirs", string(text))
}

// A full disk and one that cannot be written to leave nothing behind and are no refusal.
func TestFolderThatCannotBeWritten(t *testing.T) {
	m := Message{ID: "0192f3a1-7c2e-4b5d-9a51-3f0c2d7e8b64", Number: 7, Kind: "run", Unit: "GCC-1", Body: []byte("{}")}
	file := filepath.Join(t.TempDir(), "a file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	for _, path := range []string{file, "/proc/self"} {
		err := folder{path}.Send(t.Context(), m)
		assert.Error(t, err, path)
		_, refused := errors.AsType[*RefusedError](err)
		assert.False(t, refused, path)
	}
	require.FileExists(t, "/dev/full")
	f := folder{t.TempDir()}
	require.NoError(t, os.Symlink("/dev/full", filepath.Join(f.path, "."+fileName(m)+".part")))
	err := f.Send(t.Context(), m)
	assert.ErrorContains(t, err, "no space left")
	files, err := os.ReadDir(f.path)
	require.NoError(t, err)
	assert.Empty(t, files)
}
