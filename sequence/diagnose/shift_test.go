package diagnose

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A cause is known again by what it is and where, not by the words for it: its figure
// may have changed, and so its words.
func TestACauseIsKnownAgainInOtherWords(t *testing.T) {
	of := func(causes ...Cause) Diagnosis {
		d := Diagnosis{Found: len(causes)}
		for _, c := range causes {
			c.Weight = 1
			d.Groups = append(d.Groups, Group{Causes: []Cause{c}, Probability: 0.5})
		}
		return d
	}
	shifts := Shifts(of(Cause{Kind: PrintThin, Place: said(AtTracks, 1.3)}),
		of(Cause{Kind: PrintThin, Place: said(AtTracks, 1.4)}))
	require.Len(t, shifts, 1)
	assert.Positive(t, shifts[0].Is)

	before := Cause{Kind: LineBroken, Place: said(AtAllKeys), Lines: []string{"R3"}, Between: []string{"7", "8"}}
	after := Cause{Kind: LineBroken, Place: said(AtAllKeys), Lines: []string{"R3"}, Between: []string{"8", "9"}}
	assert.Len(t, Shifts(of(before), of(after)), 2, "the same words, another place")
	one := Cause{Kind: SecondContact, Place: said(AtAllKeys), Key: "7", Lines: []string{"R3", "C1"}, Also: []string{"R1", "C2"}}
	other := one
	other.Also = []string{"R1", "C3"}
	assert.Len(t, Shifts(of(one), of(other)), 2)
}
