package results

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs/runstest"
)

func TestRecordSaysWhereAndByWhat(t *testing.T) {
	s := openTemp(t)
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	var software, host, boot, hash string
	var uptime *float64
	require.NoError(t, raw(s).QueryRow(`SELECT software, host, boot_id, uptime_seconds, hash FROM runs`).
		Scan(&software, &host, &boot, &uptime, &hash))
	assert.NotEmpty(t, software)
	assert.NotEmpty(t, host)
	sum, err := hex.DecodeString(hash)
	require.NoError(t, err)
	assert.Len(t, sum, sha256.Size)
	if runtime.GOOS == "linux" {
		assert.Len(t, boot, len("c9ce0a54-8b4b-4a9c-9d35-6cf1a2d3b0a5"))
		require.NotNil(t, uptime)
		assert.Positive(t, *uptime)
	}
	stored, err := s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	assert.False(t, stored.Saved.IsZero())
}

func TestStoredAsJSON(t *testing.T) {
	s := openTemp(t)
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed("24-000001"))
	require.NoError(t, err)
	stored, err := s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	text, err := json.Marshal(stored)
	require.NoError(t, err)
	assert.Contains(t, string(text), id.String())
}
