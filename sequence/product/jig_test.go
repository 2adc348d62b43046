package product

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestWhatLiesUnderTheJig(t *testing.T) {
	p, err := Parse("jig.yaml", []byte(`
product: J-1
tail: C1 - R1 R2
matrix:
  rows: R1 R2
  columns: C1
  keys: |
    A
    B
keys:
  A: {actuator number: 4}
  B: {actuator number: 1}
`))
	require.NoError(t, err)
	assert.Equal(t, []int{p.Line("C1"), -1, p.Line("R1"), p.Line("R2")}, p.Wiring(), "by pin, the unused one bare")
	assert.Equal(t, []int{p.Key("B"), -1, -1, p.Key("A")}, p.Pushes(), "by actuator")
}
