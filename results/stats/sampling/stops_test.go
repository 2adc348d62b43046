package sampling

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/results/stats/reference"
)

func TestStops(t *testing.T) {
	rule := StopRule{Window: 5, MinYield: 0.6, SameRun: 3}
	causes := []string{"", "K3 open", "", "K3 open", "K3 open", "K3 open", "", "a", "b", "c", "", "d"}
	assert.Equal(t, []Stop{
		{At: 4, Passed: 2, Window: 5},
		{At: 9, Passed: 1, Window: 5},
	}, rule.Stops(causes))
	assert.Equal(t, []Stop{{At: 5, Reason: "K3 open", Run: 3}}, StopRule{SameRun: 3}.Stops(causes))
	assert.Empty(t, rule.Stops(nil))
	assert.Empty(t, StopRule{}.Stops(causes))
}

// A window of 5 that must hold 3 passed, each at 0.9: 0.1^5 + 5 0.9 0.1^4 +
// 10 0.81 0.1^3, by hand.
func TestFalseStops(t *testing.T) {
	reference.Agrees(t, 13, 0.00856, StopRule{Window: 5, MinYield: 0.6}.FalseStops(0.9))
	assert.Zero(t, StopRule{}.FalseStops(0.9))
	assert.Equal(t, 1.0, StopRule{Window: 5, MinYield: 0.6}.FalseStops(0))
}
