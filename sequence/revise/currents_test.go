package revise

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/product"
)

const onePad = `
product: PAD
tail: R1 C1
matrix: {rows: R1, columns: C1, keys: GO}
scanner: {supply: 3.3 V, pull-up: 47 kohm}
`

// What was read at one current is not taken for good at another, and a contact that was
// read at two is judged at the one that the definition names.
func TestRunsOfBeforeAndTheCurrentOfContacts(t *testing.T) {
	before, asked := parse(t, onePad), parse(t, onePad+"test: {contact current: scanner}\n")
	key := func(closed fixture.Resistance, two *fixture.TwoCurrents) sequence.Run {
		verdict := sequence.KeyPass
		if closed.Value > 200 {
			verdict = sequence.KeyFail
		}
		return sequence.Run{Outcome: sequence.Pass, Keys: []sequence.KeyResult{{Key: "GO", Lines: [2]string{"R1", "C1"}, Verdict: verdict, Closed: &closed, Two: two}}}
	}
	film := &fixture.TwoCurrents{
		Small:      fixture.AtCurrent{Current: 48e-6, Resistance: fixture.Resistance{Value: 2087, U: 1}},
		Large:      fixture.AtCurrent{Current: 3.7e-3, Resistance: fixture.Resistance{Value: 168, U: 0.1}},
		Conduction: fixture.NotOhmic,
	}
	for name, c := range map[string]struct {
		by   *product.Product
		run  sequence.Run
		want sequence.Outcome
	}{
		"as before":            {before, key(fixture.Resistance{Value: 168, U: 0.1}, nil), sequence.Pass},
		"asked, read at one":   {asked, key(fixture.Resistance{Value: 168, U: 0.1}, nil), sequence.Incomplete},
		"asked, no good":       {asked, key(fixture.Resistance{Value: 640, U: 0.1}, nil), sequence.Fail},
		"asked, read at two":   {asked, key(fixture.Resistance{Value: 2087, U: 9}, film), sequence.Fail},
		"no longer, with film": {before, key(fixture.Resistance{Value: 2087, U: 9}, film), sequence.Pass},
	} {
		got := Judge(c.by, c.run)
		assert.Equal(t, c.want, got.Outcome, "%s: %+v", name, got.Findings)
	}
	again := Judge(asked, key(fixture.Resistance{Value: 2087, U: 9}, film))
	require.Len(t, again.Findings, 1)
	assert.True(t, again.Findings[0].Says(sequence.NotOhmic))
	assert.Equal(t, film, again.Keys[0].Two)
}
