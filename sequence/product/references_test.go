package product

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const referencePad = `
product: REF
tail: R1 R2 C1
matrix:
  rows: R1 R2
  columns: C1
  keys: |
    UP
    DOWN
`

func TestReferences(t *testing.T) {
	p, err := Parse("r.yaml", []byte(referencePad+`
references:
  every: 4 h or 250 units
  within: 12 %
  good: REF-G1 REF-G2
  bad:
    REF-B1: key open at UP
    REF-B2: lines shorted at R1 R2
`))
	require.NoError(t, err)
	assert.Equal(t, &References{
		Every: 4 * time.Hour, Units: 250, Within: 0.12, Good: []string{"REF-G1", "REF-G2"},
		Bad: []BadUnit{{"REF-B1", "key open", "UP", nil}, {"REF-B2", "lines shorted", "", []string{"R1", "R2"}}},
	}, p.References)
	assert.Equal(t, "every 4 h or 250 units", p.References.String())
	bad, ok := p.Reference("REF-B2")
	require.True(t, ok)
	assert.Equal(t, "lines shorted", bad.What)
	bad, ok = p.Reference("REF-G1")
	assert.True(t, ok)
	assert.Nil(t, bad)
	_, ok = p.Reference("REF-X")
	assert.False(t, ok)

	plain, err := Parse("r.yaml", []byte(referencePad))
	require.NoError(t, err)
	assert.NotEqual(t, plain.Hash(), p.Hash(), "what is demanded is part of the meaning")
	assert.NotContains(t, string(plain.Canonical()), "references", "and absent where nothing is")
}
