package pad

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// What a key shows is its verdict, its resistance as short as it may be, and the finding
// it failed for where there are several.
func TestMarks(t *testing.T) {
	at := func(v float64) sequence.KeyResult {
		return sequence.KeyResult{Closed: &fixture.Resistance{Value: quantity.Ohm(v)}}
	}
	for want, key := range map[string]sequence.KeyResult{"": {}, "95 Ω": at(95.4), "1,5 kΩ": at(1500), "2,0 MΩ": at(2e6), "∞": at(math.Inf(1))} {
		assert.Equal(t, want, ShortOhms(wording.Facts().In("de"), key))
	}
	p := &product.Product{Keys: []product.Key{{Label: "7", W: 1, H: 1}, {Label: "8", X: 1, W: 1, H: 1}, {Label: "9", X: 2, W: 1, H: 1}}}
	of := func(label string, verdict sequence.Verdict, v float64) sequence.KeyResult {
		k := at(v)
		k.Key, k.Verdict = label, verdict
		return k
	}
	keys := []sequence.KeyResult{of("7", sequence.KeyFail, 640), of("8", sequence.KeyPass, 95), {Key: "9", Verdict: sequence.KeyUntested}}
	one := []sequence.Finding{{What: "key high", Key: "7"}}
	shown := func(findings []sequence.Finding) View {
		return Show(OfRun(wording.Words{}, p, keys, findings), "so it is")
	}
	v := shown(one)
	require.Len(t, v.Keys, 3)
	assert.Equal(t, []Key{{0, "7", "bad", "640 Ω", 1}, {1, "8", "good", "95 Ω", 0}, {2, "9", "wait", "", 0}}, v.Keys)
	second := shown(append([]sequence.Finding{{What: "leak", Lines: []string{"C1", "C2"}}}, one...)).Keys[0]
	assert.Equal(t, Key{0, "7", "bad", "640 Ω", 2}, second, "the number stands beside the reading")
	assert.Contains(t, string(v.Live()), "so it is")
}
