package wording

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/sequence"
	"padjig/sequence/prove"
)

// Keys that several proofs lack are named once; at a glance only the first of them. What is
// read at rest has words of each language.
func TestGapsNameKeysOnce(t *testing.T) {
	keys := []string{"5", "6", "HEAT", "7", "8"}
	run := sequence.Run{Proofs: &prove.Account{Missing: []prove.Gap{
		{Proof: prove.Insulation, Of: []string{"after the keys"}}, {Proof: prove.Closes, Of: keys}, {Proof: prove.Opens, Of: keys},
		{Proof: prove.Contact, Of: keys[:2]},
	}}}
	facts := Facts()
	en, de := facts.In("en"), facts.In("de")
	assert.Equal(t, "missing for a pass: insulation resistance (after the keys); closes, opens again (5 6 HEAT 7 8); "+
		"contact resistance (5 6)", en.Missing(run))
	assert.Equal(t, "missing for a pass: insulation resistance (after the keys); closes, opens again (5 6 HEAT and 2 more); "+
		"contact resistance (5 6)", en.MissingAtAGlance(run))
	assert.Equal(t, "fehlt zum Bestehen: Isolationswiderstand (nach den Tasten); schließt, öffnet wieder (5 6 HEAT und 2 weitere); "+
		"Kontaktwiderstand (5 6)", de.MissingAtAGlance(run))
	assert.Empty(t, en.MissingAtAGlance(sequence.Run{}))
}
