package results

import (
	"database/sql"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs/runstest"
)

// A panic while a start or a run is stored leaves nothing that the next one could go by: neither words of a transaction that
// is gone, nor a lock, nor the unit in hand.
func TestAPanicWhileARunIsStored(t *testing.T) {
	with := testSeams()
	falls := false
	commit := with.Commit
	with.Commit = func(tx *sql.Tx) error {
		if falls {
			panic("no such key")
		}
		return commit(tx)
	}
	s := openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), with)
	run := runstest.Passed("24-000001")
	falls = true
	assert.Panics(t, func() { _, _ = s.Runs.Begin(t.Context(), runstest.Climate(), startOf(run), agreed) })
	falls = false
	begun, err := s.Runs.Begin(t.Context(), runstest.Climate(), startOf(run), agreed)
	require.NoError(t, err, "the unit is in nobody's hand")
	falls = true
	assert.Panics(t, func() { _, _ = begun.Save(t.Context(), run) })
	falls = false
	again := runstest.Passed("24-000002")
	begun, err = s.Runs.Begin(t.Context(), runstest.Climate(), startOf(again), agreed)
	require.NoError(t, err)
	_, err = begun.Save(t.Context(), again)
	require.NoError(t, err, "its words are stored with it")
	wrong, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, wrong)
}
