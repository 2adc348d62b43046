package results

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
	with := testSeams()
	with.free = func(dir string) (uint64, error) { asked = dir; return free, nil }
	path := filepath.Join(t.TempDir(), "padjig.db")
	s := openChecked(t, path, with)

	require.NoError(t, s.Room(t.Context()))
	assert.Equal(t, filepath.Dir(path), asked)
	info, err := os.Stat(s.ballastPath())
	require.NoError(t, err)
	assert.Equal(t, with.ballast, info.Size())

	free = roomFloor // enough, for the ballast is there
	require.NoError(t, s.Room(t.Context()))
	free = roomFloor - 1
	err = s.Room(t.Context())
	assert.ErrorIs(t, err, ErrNoRoom)
	assert.ErrorContains(t, err, "63 MiB free, 64 MiB needed; move other files off this disk")

	s.dropBallast()
	free = roomFloor // not enough for the ballast too
	assert.ErrorIs(t, s.Room(t.Context()), ErrNoRoom)
	assert.NoFileExists(t, s.ballastPath())

	with.free = func(string) (uint64, error) { return 0, errors.New("gone") }
	s.seams = with
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
	_, err := s.Save(t.Context(), climate(), failed("24-000001"))
	require.NoError(t, err)
	require.Positive(t, s.logBytes())
	before := s.fileBytes()
	require.NoError(t, s.Room(t.Context()))
	assert.Greater(t, s.fileBytes(), before, "the log was moved into the file")
}

func TestNetworkDrivesAreRefused(t *testing.T) {
	with := testSeams()
	with.remote = func(string) (bool, error) { return true, nil }
	path := filepath.Join(t.TempDir(), "padjig.db")
	_, err := openWith(t.Context(), path, with)
	assert.ErrorIs(t, err, ErrUnsafe)
	assert.ErrorContains(t, err, "put the store on a disk of this computer")
	assert.NoFileExists(t, path)
	remote, err := remoteDisk(t.TempDir())
	require.NoError(t, err)
	assert.False(t, remote)
}
