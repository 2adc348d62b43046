package results

import (
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/care"
	"padjig/results/runs/runstest"
	"padjig/results/store"
)

// moved is a store with acknowledged runs, and a copy that was taken before the
// last of them.
type moved struct {
	t          *testing.T
	s          *Store
	path, copy string
}

func newMoved(t *testing.T) *moved {
	t.Helper()
	dir := t.TempDir()
	m := &moved{t, nil, filepath.Join(dir, "records.sqlite"), filepath.Join(dir, "copy.sqlite")}
	s, err := OpenWith(t.Context(), m.path, testSeams())
	require.NoError(t, err)
	m.s = s
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	copyOf(t, s, m.copy)
	for i := range 40 { // the copy is smaller
		_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Failed(fmt.Sprintf("24-1%05d", i)))
		require.NoError(t, err)
	}
	require.NoError(t, s.Room(t.Context()))
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000002")) // in the log only
	require.NoError(t, err)
	return m
}

func (m *moved) do(errs ...error) {
	m.t.Helper()
	for _, err := range errs {
		require.NoError(m.t, err)
	}
}

func (m *moved) copied(to string) error {
	content, err := os.ReadFile(m.copy)
	m.do(err)
	return os.WriteFile(to, content, 0o644) // in place, as cp does
}

// holds opens a file anew and looks for a unit in it.
func (m *moved) holds(path, serial string) bool {
	m.t.Helper()
	s := openChecked(m.t, path, testSeams())
	runs, err := s.Runs.Unit(m.t.Context(), serial)
	require.NoError(m.t, err)
	return len(runs) > 0
}

func sumOf(t *testing.T, path string) [32]byte {
	t.Helper()
	content, err := os.ReadFile(path)
	require.NoError(t, err)
	return sha256.Sum256(content)
}

// stopped holds that nothing is acknowledged any more, and nothing begun.
func (m *moved) stopped() {
	m.t.Helper()
	_, err := m.s.Runs.Save(m.t.Context(), runstest.Climate(), runstest.Passed("24-000009"))
	require.ErrorIs(m.t, err, store.ErrMoved)
	_, err = m.s.Runs.Begin(m.t.Context(), runstest.Climate(), startOf(runstest.Passed("24-000009")), agreed)
	require.ErrorIs(m.t, err, store.ErrMoved)
	require.ErrorIs(m.t, m.s.Room(m.t.Context()), store.ErrMoved)
	require.ErrorIs(m.t, m.s.Care.SaveWear(m.t.Context(), care.WearEvent{Jig: "J-0007", Part: care.Nest, Lot: "N-2", By: "Ines"}), store.ErrMoved)
	_, err = m.s.Runs.History(m.t.Context(), "24-000001")
	require.ErrorIs(m.t, err, store.ErrMoved)
}

func TestStoreIsMovedAwayAndBack(t *testing.T) {
	m := newMoved(t)
	away := m.path + ".away"
	m.do(os.Rename(m.path, away))
	m.stopped()
	m.do(os.Rename(away, m.path))
	m.stopped() // until it is opened anew
	m.do(m.s.Close())
	assert.True(t, m.holds(m.path, "24-000002"), "what was acknowledged")
	assert.False(t, m.holds(m.path, "24-000009"))
}

// The log stays behind where only the file is moved: what was in it alone goes
// with the file nonetheless.
func TestStoreIsMovedAwayForGood(t *testing.T) {
	m := newMoved(t)
	away := m.path + ".away"
	m.do(os.Rename(m.path, away))
	m.stopped()
	assert.NoFileExists(t, m.path, "no new file in place of the one that went away")
	m.do(m.s.Close())
	assert.NoFileExists(t, m.path)
	assert.True(t, m.holds(away, "24-000002"), "what was acknowledged")
}

func TestStoreIsDeleted(t *testing.T) {
	m := newMoved(t)
	m.do(os.Remove(m.path))
	m.stopped()
	m.do(m.s.Close())
	assert.NoFileExists(t, m.path)
}

// A restored copy put in place of the open file is not written to, and our log
// is not played into it.
func TestStoreIsReplacedByACopy(t *testing.T) {
	for name, opened := range map[string]bool{"first found by us": false, "opened by another process first": true} {
		t.Run(name, func(t *testing.T) {
			m := newMoved(t)
			before := sumOf(t, m.copy)
			restored := m.copy + ".restored"
			m.do(m.copied(restored), os.Rename(m.path, m.path+".away"), os.Rename(restored, m.path))
			m.stopped()
			assert.Equal(t, before, sumOf(t, m.path))
			if opened {
				other, err := OpenWith(t.Context(), m.path, testSeams())
				m.do(err)
				_, err = other.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000005"))
				m.do(err, m.s.Close()) // ours goes while the other's log is in use
				_, err = other.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000006"))
				m.do(err, other.Close())
				assert.True(t, m.holds(m.path, "24-000005"))
				assert.True(t, m.holds(m.path, "24-000006"))
			} else {
				m.do(m.s.Close())
				assert.Equal(t, before, sumOf(t, m.path))
			}
			assert.True(t, m.holds(m.path, "24-000001"))
			assert.False(t, m.holds(m.path, "24-000002"), "that was stored after the copy was taken")
			assert.True(t, m.holds(m.path+".away", "24-000002"), "and is in our own file")
		})
	}
}

// cp writes over the open file in place: device and inode stay what they were.
func TestStoreIsOverwrittenByACopy(t *testing.T) {
	m := newMoved(t)
	before := sumOf(t, m.copy)
	m.do(m.copied(m.path))
	m.stopped()
	m.do(m.s.Close())
	assert.Equal(t, before, sumOf(t, m.path))
	assert.NoFileExists(t, m.path+"-wal", "or it would be played into the copy")
	assert.FileExists(t, m.path+"-wal.overwritten")
}

// The log of an open store is deleted, or its index: what is in it is carried
// into the file.
func TestLogIsDeleted(t *testing.T) {
	for _, name := range []string{"-wal", "-shm"} {
		t.Run(name, func(t *testing.T) {
			m := newMoved(t)
			m.do(os.Remove(m.path + name))
			m.stopped()
			m.do(m.s.Close())
			assert.True(t, m.holds(m.path, "24-000002"), "what was acknowledged")
		})
	}
}

// The same by somebody who restored a copy over the file first.
func TestFileIsOverwrittenAndLogDeleted(t *testing.T) {
	m := newMoved(t)
	before := sumOf(t, m.copy)
	m.do(m.copied(m.path), os.Remove(m.path+"-wal"))
	m.stopped()
	m.do(m.s.Close())
	assert.Equal(t, before, sumOf(t, m.path))
}

// The file is put away while the commit fails: it is not opened anew under
// another file's name.
func TestStoreIsReplacedDuringACommit(t *testing.T) {
	path := filepath.Join(t.TempDir(), "records.sqlite")
	copied, armed := path+".copy", false
	with := testSeams()
	with.Commit = func(tx *sql.Tx) error {
		if !armed {
			return tx.Commit()
		}
		armed = false
		return errors.Join(errDisk, tx.Rollback(), os.Rename(path, path+".away"), os.Rename(copied, path))
	}
	s, err := OpenWith(t.Context(), path, with)
	require.NoError(t, err)
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	copyOf(t, s, copied)
	before := sumOf(t, copied)
	armed = true
	_, err = s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000002"))
	require.ErrorIs(t, err, store.ErrMoved)
	require.ErrorIs(t, err, errDisk)
	require.NoError(t, s.Close())
	assert.Equal(t, before, sumOf(t, path))
}
