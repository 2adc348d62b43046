package tower

import (
	"math/bits"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/wire"
)

// No two signals look alike, with their colours or without: by how many lamps are steady, and
// how many blink how fast. What the buzzer does is beside that.
func TestSignalsDifferWithoutTheirColours(t *testing.T) {
	type plain struct {
		steady, blinking int
		half             uint8
	}
	seen, plainly := map[wire.Tower]bool{}, map[plain]bool{}
	for _, l := range lights {
		_, err := wire.ParseTower(wire.AppendTower(nil, l.Tower))
		require.NoError(t, err)
		assert.Zero(t, l.Lit&wire.Buzzer)
		seen[l.Tower] = true
		plainly[plain{bits.OnesCount8(uint8(l.Lit &^ l.Blinking)), bits.OnesCount8(uint8(l.Blinking)), l.Half}] = true
	}
	assert.Len(t, seen, len(lights))
	assert.Len(t, plainly, len(lights))
	green := 0
	for s, l := range lights {
		if l.Lit&wire.Green != 0 {
			assert.Equal(t, Passed, Signal(s))
			green++
		}
	}
	assert.Equal(t, 1, green)
}
