package bench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/product"
)

// A station that joins lines and presses nothing makes no stage of a returns case.
func TestAStageNeedsItsKeysPressed(t *testing.T) {
	for _, purpose := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest, sequence.Exercise} {
		_, err := (&Return{Purpose: purpose}).plan(new(product.Product), fixture.Capabilities{}, sequence.Electrical)
		require.ErrorAs(t, err, new(sequence.Problems))
		assert.ErrorContains(t, err, "a stage of a returns case needs its keys pressed", purpose)
	}
}
