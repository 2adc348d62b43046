package forward_test

import (
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
)

var server *planttest.Server

func TestMain(m *testing.M) {
	if told := os.Getenv(ofChild); told != "" {
		fmt.Fprintln(os.Stderr, beChild(told))
		os.Exit(1)
	}
	planttest.Run(m, &server)
}

// What came once does not come again, and joining twice is joining once.
func TestAll(t *testing.T) {
	plant, records := server.Plant(t), planttest.Records(t, 120, 1)
	moved, err := forward.All(t.Context(), plant, records, "line-1")
	require.NoError(t, err)
	assert.EqualValues(t, 120, moved.Runs)
	same(t, plant, records, "line-1")
	planttest.More(t, records, 15, 2)
	moved, err = forward.All(t.Context(), plant, records, "line-1")
	require.NoError(t, err)
	assert.EqualValues(t, 15, moved.Runs)
	same(t, plant, records, "line-1")
	moved, err = forward.All(t.Context(), plant, records, "line-1")
	require.NoError(t, err)
	assert.Zero(t, moved.Rows)
	var members int
	require.NoError(t, plant.QueryRowContext(t.Context(), `SELECT count(*) FROM member`).Scan(&members))
	assert.Equal(t, 1, members)
	_, err = forward.Join(t.Context(), plant, "line 1")
	assert.ErrorContains(t, err, "such as line-2")
}
