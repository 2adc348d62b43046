package wording

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/sequence/revise"
)

// Every change has words in both languages, with the keys it is about.
func TestChangesInWords(t *testing.T) {
	facts := Facts()
	for _, code := range revise.Codes() {
		for _, lang := range Languages {
			assert.NotEmpty(t, facts[lang]["change."+string(code)], "%s: %s", lang, code)
		}
	}
	sixteen := make([]string, 16)
	most := revise.Change{Class: revise.Looser, Code: revise.ContactMost, Keys: sixteen, Of: 20, From: "180 ohm", To: "200 ohm"}
	sixteen[0] = "1"
	assert.Equal(t, "16 keys: contact resistance at most 180 → 200 ohm", Words{}.Change(most))
	assert.Equal(t, "16 Tasten: Kontaktwiderstand höchstens 180 → 200 ohm", german.Change(most))
	most.Of = 16
	assert.Equal(t, "all 16 keys: contact resistance at most 180 → 200 ohm", Words{}.Change(most))
	most.Keys = []string{"VENT", "MIST"}
	assert.Equal(t, "keys VENT, MIST: contact resistance at most 180 → 200 ohm", Words{}.Change(most))
	assert.Equal(t, "key 7: no longer tested", Words{}.Change(revise.Change{Code: revise.KeyRemoved, Keys: []string{"7"}, Of: 19}))
	assert.Equal(t, "check character of serial numbers luhn → none", Words{}.Change(revise.Change{Code: revise.SerialCheck, From: "luhn"}))
	assert.Equal(t, "a change that nobody has classed: keys[1].travel 2 → 1",
		Words{}.Change(revise.Change{Code: revise.Unclassed, Keys: []string{"keys[1].travel"}, From: "2", To: "1"}))
	assert.Equal(t, "Paul proposed it: a second person has to approve it", Words{}.Release("same person", []string{"Paul"}))
}
