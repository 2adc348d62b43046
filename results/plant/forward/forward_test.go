package forward_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
)

var server *planttest.Server

func TestMain(m *testing.M) { planttest.Run(m, &server) }

func TestAll(t *testing.T) {
	plant, store := server.Plant(t), planttest.Records(t, 200, 1)
	moved, err := forward.All(t.Context(), plant, store, "line-1")
	require.NoError(t, err)
	assert.EqualValues(t, 200, moved.Runs)
	again, err := forward.All(t.Context(), plant, store, "line-1")
	require.NoError(t, err)
	assert.Zero(t, again.Rows)
	checked, err := forward.Check(t.Context(), plant, store, "line-1", func(int64, int64) {})
	require.NoError(t, err)
	assert.True(t, checked.Same(), checked)
	assert.Empty(t, checked.Differences)
}
