package plant_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/plant/planttest"
)

var plantServer *planttest.Server

func TestMain(m *testing.M) { planttest.Run(m, &plantServer) }

// The rooms ask the database of a plant as they ask a file.
func TestRoomsOverAPlant(t *testing.T) {
	s := results.Over(plantServer.Plant(t), "plant")
	y, err := s.Lines.Yields(t.Context(), lines.Filter{}, lines.ByProduct, lines.ByJig)
	require.NoError(t, err)
	assert.Empty(t, y.Rows)
}
