package diagnose

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What the polish says of a unit: a cracked row is a row term, a dirty contact a residual.
func TestPolishOfAUnit(t *testing.T) {
	s := healthySubject(t, "gcc-20")
	s.more("R3", 0, 400)
	s.high("OK", 900)
	terms := s.diagnose().Terms
	require.NotNil(t, terms)
	assert.InDelta(t, 400, terms.Medians.Row[2], 30, "three standard deviations of a contact")
	assert.Greater(t, terms.Medians.Residual[4][3], 700.0)
	assert.Less(t, terms.Squares.Residual[4][3], 600.0, "smeared over its row and column")
}
