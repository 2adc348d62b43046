package desk

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/page"
	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
)

// What a key read least and most is of what it read closed; each time it opened counts once, and all
// of it begins anew.
func TestExtremesOfAKey(t *testing.T) {
	var seen extremes
	says := func() (out map[string]string) {
		raw, err := json.Marshal(seen.say(page.In("en", page.Catalogue{"en": {"ohms.open": "open", "ohms.closed": "closed", "ohms.rests": "rests", "unit.open": "open"}})))
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(raw, &out))
		return out
	}
	note := func(ohm float64, closed bool) {
		seen.note(sequence.Live{Ohm: fixture.Resistance{Value: quantity.Ohm(ohm), U: 0.05, AtLeast: !closed}, Closed: closed})
	}
	note(1e6, false) // it is not pressed yet
	assert.Equal(t, "–", says()["least"])
	for _, ohm := range []float64{80, 75, 92} {
		note(ohm, true)
	}
	note(1e6, false)
	note(1e6, false)
	note(81, true)
	note(1e6, false)
	now := says()
	assert.Equal(t, "75.00 ± 0.10 Ω", now["least"])
	assert.Equal(t, "92.00 ± 0.10 Ω", now["most"])
	assert.Equal(t, "2", now["drops"], "not pressed before is no opening")
	assert.Equal(t, "8", now["count"])
	assert.Equal(t, "open", now["word"])
	seen.note(sequence.Live{Rests: true})
	assert.Equal(t, []string{"rests", "2", "8"}, []string{says()["word"], says()["drops"], says()["count"]}, "an actuator that rests opened nothing")
	seen.reset()
	note(1e6, false)
	assert.Equal(t, []string{"–", "0", "1"}, []string{says()["most"], says()["drops"], says()["count"]})
}
