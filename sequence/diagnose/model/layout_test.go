package model

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/sequence/diagnose/padtest"
	"padjig/sequence/product"
)

// where says in which lines' places a mapping finds a key: another key's label, or lines.
func where(p *product.Product, m *Layout, label string) string {
	at := m.at[p.Key(label)]
	if at[0] < 0 {
		return "nowhere"
	}
	for _, k := range p.Keys {
		if at.Are(k.A, k.B) {
			return k.Label
		}
	}
	o := at.Ordered()
	return p.Lines[o[0]].Name + "-" + p.Lines[o[1]].Name
}

// Worked by hand from the wiring: a mirrored tail takes pin i to pin 8 - i, so that key
// (r, c) of the first three rows is read at (4 - c, 4 - r), and the last row closes row 4
// to rows 3, 2 and 1. A tail one pin too far takes (r, c) to (r + 1, c + 1), leaves the
// last column off the end, and lets the last row close column 1 to columns 2 and 3.
func TestLayoutsWorkedByHand(t *testing.T) {
	p := padtest.Telephone(t)
	turned, shifted := Mirror(p), Shift(p, 1)
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
	back := Shift(p, -2)
	assert.Equal(t, []bool{false, false, false, false, false, true, true}, back.bare)
}

// With diodes, a row and a column that have changed places turn the diode of the key
// they share.
func TestSwapTurnsADiode(t *testing.T) {
	p := padtest.Matrix(t, 3, 3)
	for i := range p.Keys {
		p.Keys[i].Diode = product.AtoB
	}
	m := Swap(p, p.Line("C2"), p.Line("R3"))
	assert.True(t, m.Own(p, p.Key("3.2")))
	assert.True(t, m.turned[p.Key("3.2")])
	assert.False(t, m.turned[p.Key("1.1")])
}
