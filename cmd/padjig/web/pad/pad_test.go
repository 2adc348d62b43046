package pad

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/product"
)

// A pad holds every key in its box, with the label that fits and the mark it is given.
func TestDraw(t *testing.T) {
	p := &product.Product{Keys: []product.Key{{Label: "1", W: 1, H: 1}, {Label: "VENTILATION", X: 1, W: 1, H: 1}}}
	v := Draw(p, func(k int) (string, string) { return []string{"good", "bad"}[k], fmt.Sprint("mark ", k) })
	require.Len(t, v.Keys, 2)
	assert.Equal(t, []string{"good", "mark 0", "bad", "mark 1"}, []string{v.Keys[0].Class, v.Keys[0].Mark, v.Keys[1].Class, v.Keys[1].Mark})
	assert.True(t, v.Keys[1].Long && !v.Keys[0].Long && v.Flat())
	assert.Equal(t, "-14 -14 228 128", v.Box())
	k := v.Keys[0]
	for _, x := range []float64{k.MidX(), k.CrossX1(), k.CrossX2()} {
		assert.True(t, x > k.X && x < k.X+k.W)
	}
	for _, y := range []float64{k.LabelY(), k.MarkY(), k.CrossY1(), k.CrossY2()} {
		assert.True(t, y > k.Y && y < k.Y+k.H)
	}
	assert.Less(t, k.InnerW(), k.W)
}

// What a key shows is its verdict, its resistance as short as it may be, and the finding
// it failed for.
func TestMarks(t *testing.T) {
	assert.Equal(t, []string{"good", "bad", "wait"}, []string{ClassOf(sequence.KeyPass), ClassOf(sequence.KeyFail), ClassOf("")})
	at := func(v float64) sequence.KeyResult {
		return sequence.KeyResult{Closed: &fixture.Resistance{Value: quantity.Ohm(v)}}
	}
	for want, key := range map[string]sequence.KeyResult{"": {}, "95 Ω": at(95.4), "1,5 kΩ": at(1500), "2,0 MΩ": at(2e6), "∞": at(math.Inf(1))} {
		assert.Equal(t, want, ShortOhms("de", key))
	}
	findings := []sequence.Finding{{Lines: []string{"C1", "C2"}}, {Key: "7"}}
	assert.Equal(t, 2, FindingOf(findings, sequence.KeyResult{Key: "7", Lines: [2]string{"R1", "C1"}}))
	assert.Equal(t, 1, FindingOf(findings, sequence.KeyResult{Key: "8", Lines: [2]string{"R1", "C1"}}))
	assert.Zero(t, FindingOf(findings, sequence.KeyResult{Key: "9", Lines: [2]string{"R1", "C3"}}))
}
