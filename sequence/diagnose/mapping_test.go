package diagnose

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/product"
)

// telephone is a 12-key 4 x 3 pad with its rows on pins 1 to 4 and its columns on 5 to 7.
func telephone(t testing.TB) *product.Product {
	t.Helper()
	p, err := product.Parse("telephone.yaml", []byte(`product: PHONE-12
title: greenhouse door panel, 12 keys
tail: R1 R2 R3 R4 C1 C2 C3
matrix:
  rows: R1 R2 R3 R4
  columns: C1 C2 C3
  keys: |
    1 2 3
    4 5 6
    7 8 9
    * 0 #
limits: {contact resistance: at most 200 ohm}
nominal: {contact: 60 ohm, track: 1.5 ohm, tail: 4 ohm}
`))
	require.NoError(t, err)
	return p
}

// where says in which lines' places a mapping finds a key: another key's label, or lines.
func where(p *product.Product, m *mapping, label string) string {
	at := m.at[p.Key(label)]
	if at[0] < 0 {
		return "nowhere"
	}
	for _, k := range p.Keys {
		if ordered(k.A, k.B) == ordered(at[0], at[1]) {
			return k.Label
		}
	}
	o := ordered(at[0], at[1])
	return p.Lines[o[0]].Name + "-" + p.Lines[o[1]].Name
}

// Worked by hand from the wiring: a mirrored tail takes pin i to pin 8 - i, so that key
// (r, c) of the first three rows is read at (4 - c, 4 - r), and the last row closes row 4
// to rows 3, 2 and 1. A tail one pin too far takes (r, c) to (r + 1, c + 1), leaves the
// last column off the end, and lets the last row close column 1 to columns 2 and 3.
func TestMappingsWorkedByHand(t *testing.T) {
	p := telephone(t)
	turned, shifted := mirror(p), shift(p, 1)
	for label, at := range map[string]string{
		"1": "9", "3": "3", "4": "8", "2": "6", "5": "5", "7": "7", "9": "1", "*": "R3-R4", "0": "R2-R4", "#": "R1-R4",
	} {
		assert.Equal(t, at, where(p, turned, label), "mirrored, key %s", label)
	}
	for label, at := range map[string]string{
		"1": "5", "2": "6", "4": "8", "8": "#", "3": "nowhere", "6": "nowhere", "#": "nowhere", "*": "C1-C2", "0": "C1-C3",
	} {
		assert.Equal(t, at, where(p, shifted, label), "shifted, key %s", label)
	}
	assert.Equal(t, []bool{true, false, false, false, false, false, false}, shifted.bare)
	back := shift(p, -2)
	assert.Equal(t, []bool{false, false, false, false, false, true, true}, back.bare)
}

// Each mapping is found from what it does, by a jig that cannot read loops.
func TestMappingsAreFound(t *testing.T) {
	p := telephone(t)
	for _, c := range []struct {
		name string
		m    *mapping
		kind Kind
	}{
		{"mirror", mirror(p), TailReversed},
		{"one too far", shift(p, 1), TailShifted},
		{"two too far", shift(p, 2), TailShifted},
		{"one too near", shift(p, -1), TailShifted},
		{"two too near", shift(p, -2), TailShifted},
		{"rows 1 and 3", swap(p, 2, 0), LinesExchanged},
		{"row 2 and column 3", swap(p, 6, 1), LinesExchanged},
		{"columns 1 and 2", swap(p, 5, 4), LinesExchanged},
		{"two pairs", swap(p, 6, 4).then(swap(p, 2, 0), p), LinesExchanged},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := subjectOf(p)
			s.lies(c.m)
			d := Diagnose(s.Evidence)
			first, ok := d.First()
			require.True(t, ok, d.Sentence)
			assert.Equal(t, c.kind, first.Kind, d.Sentence)
			assert.Equal(t, c.m.place, first.Place)
			assert.Equal(t, 1, d.Found, d.Sentence)
			assert.Empty(t, d.Unexplained)
			assert.NotEmpty(t, d.Masked, "moved keys were not tested")
		})
	}
}

// With diodes, a row and a column that have changed places turn the diode of the key
// they share.
func TestSwapTurnsADiode(t *testing.T) {
	p := matrix(t, 3, 3, "")
	for i := range p.Keys {
		p.Keys[i].Diode = product.AtoB
	}
	m := swap(p, p.Line("C2"), p.Line("R3"))
	assert.True(t, m.own(p, p.Key("3.2")))
	assert.True(t, m.turned[p.Key("3.2")])
	assert.False(t, m.turned[p.Key("1.1")])
}
