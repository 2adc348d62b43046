package care

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/quantity"
)

// A range that cannot have read a contact says nothing of it; the resistor most like it does.
func TestTruths(t *testing.T) {
	drifts := []drift{
		{reference: 500, certified: 100, ohm: 0.5}, {reference: 500, certified: 5000, ohm: 25},
		{reference: 1e6, certified: 1e6, ohm: -5000},
	}
	for closed, want := range map[quantity.Ohm][3]quantity.Ohm{
		60:   {60, 59.5, 60 / 1.005},
		3:    {3, 2.5, 3 / 1.005}, // below all: the smallest range
		4000: {4000, 3975, 4000 / 1.005},
	} {
		got := truths(closed, drifts)
		require.Len(t, got, len(want))
		for i := range want {
			assert.InDelta(t, float64(want[i]), float64(got[i]), 1e-9)
		}
	}
	assert.Equal(t, []quantity.Ohm{60}, truths(60, nil))
}
