package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestRoom(t *testing.T) {
	free := uint64(roomFloor + 1<<10)
	var asked string
	with := forTests()
	with.Free = func(dir string) (uint64, error) { asked = dir; return free, nil }
	path := filepath.Join(t.TempDir(), "padjig.db")
	s := opened(t, path, with)

	require.NoError(t, s.Room(t.Context()))
	assert.Equal(t, filepath.Dir(path), asked)
	info, err := os.Stat(path + ballastEnd)
	require.NoError(t, err)
	assert.Equal(t, with.Ballast, info.Size())

	free = roomFloor // enough, for the ballast is there
	require.NoError(t, s.Room(t.Context()))
	free = roomFloor - 1
	err = s.Room(t.Context())
	assert.ErrorIs(t, err, ErrNoRoom)
	assert.ErrorContains(t, err, "63 MiB free, 64 MiB needed; move other files off this disk")

	require.NoError(t, os.Remove(path+ballastEnd))
	free = roomFloor // not enough for the ballast too
	assert.ErrorIs(t, s.Room(t.Context()), ErrNoRoom)
	assert.NoFileExists(t, path+ballastEnd)

	with.Free = func(string) (uint64, error) { return 0, errors.New("gone") }
	s.with = with
	assert.ErrorContains(t, s.Room(t.Context()), "gone")
}

func TestRoomOfThisDisk(t *testing.T) {
	free, err := freeBytes(t.TempDir())
	require.NoError(t, err)
	assert.Positive(t, free)
	_, err = freeBytes(filepath.Join(t.TempDir(), "missing"))
	assert.Error(t, err)
}

func TestRoomEmptiesTheLog(t *testing.T) {
	s := openTemp(t)
	require.NoError(t, s.Insert(t.Context(), "a step", `INSERT INTO step (name) VALUES ('key 1')`))
	require.Positive(t, fileBytes(s.path+"-wal"))
	before := fileBytes(s.path)
	require.NoError(t, s.Room(t.Context()))
	assert.Greater(t, fileBytes(s.path), before, "the log was moved into the file")
}

func TestNetworkDrivesAreRefused(t *testing.T) {
	with := forTests()
	with.Remote = func(string) (bool, error) { return true, nil }
	path := filepath.Join(t.TempDir(), "padjig.db")
	_, err := Open(t.Context(), path, with)
	assert.ErrorIs(t, err, ErrUnsafe)
	assert.ErrorContains(t, err, "put the store on a disk of this computer")
	assert.NoFileExists(t, path)
	remote, err := remoteDisk(t.TempDir())
	require.NoError(t, err)
	assert.False(t, remote)
}
