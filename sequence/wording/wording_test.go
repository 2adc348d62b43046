package wording

import (
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/sequence"
)

// Every fact that a run can say has words in every language, with the same arguments.
func TestEveryFactHasWords(t *testing.T) {
	argument := regexp.MustCompile(`\{\d[^}]*\}`)
	places, manners, reasons := sequence.Codes()
	var keys []string
	for prefix, codes := range map[string][]sequence.Code{"at.": places, "how.": manners, "why.": reasons} {
		for _, code := range codes {
			if code != sequence.JigFailed { // which is the error's own words
				keys = append(keys, prefix+string(code))
			}
		}
	}
	for _, what := range sequence.Findings() {
		keys = append(keys, "term."+what, "finding."+what)
	}
	assert.Greater(t, len(keys), 80)
	for _, key := range keys {
		for _, lang := range Languages {
			assert.NotEmpty(t, Facts[lang][key], "%s: %s", lang, key)
		}
	}
	for key, text := range Facts["en"] {
		in := func(text string) []string {
			found := argument.FindAllString(text, -1)
			slices.Sort(found)
			return found
		}
		assert.Equal(t, in(text), in(Facts["de"][key]), key)
	}
}

func TestAFindingInWords(t *testing.T) {
	f := sequence.Finding{
		What: "leak", Place: "as it was recorded", Value: new(8e5), Limit: new(1e7), Unit: "ohm",
		At:  sequence.Said{Code: sequence.AtLines, Args: []string{"R3", "3", "{0}", "4"}},
		How: []sequence.Said{{Code: sequence.WhileFalling}, {Code: sequence.OnlyAfter}},
	}
	assert.Equal(t, "leak: between R3 (pin 3) and {0} (pin 4); falling while watched; only after the keys were pressed, 800 kohm, limit 10 Mohm",
		English.Finding(f))
	assert.Equal(t, "Leck: zwischen R3 (Pin 3) und {0} (Pin 4); fällt beim Beobachten; erst nachdem die Tasten gedrückt waren, "+
		"800 kohm, Grenze 10 Mohm", German.Finding(f))
	assert.Equal(t, "between R3 (pin 3) and {0} (pin 4)", English.Where(f))

	f.At, f.How = sequence.Said{}, nil
	assert.Equal(t, "Leck: as it was recorded, 800 kohm, Grenze 10 Mohm", German.Finding(f), "an earlier version's own words")
	f.At = sequence.Said{Code: "behind the moon", Args: []string{"R3"}}
	assert.Contains(t, German.Finding(f), "behind the moon R3", "a later version's code")
}

func TestAReasonInWords(t *testing.T) {
	run := sequence.Run{Reason: "as it was recorded", Why: sequence.Said{Code: sequence.NeverPressed, Args: []string{"7, 8"}}}
	text, known := German.Why(run)
	assert.Equal(t, "nie gedrückt: 7, 8", text)
	assert.True(t, known)
	for _, why := range []sequence.Said{{}, {Code: sequence.JigFailed, Args: []string{"x"}}} {
		run.Why = why
		text, known = German.Why(run)
		assert.Equal(t, "as it was recorded", text)
		assert.False(t, known)
	}
}

// What keeps a unit from being tested is said in full: every argument has its place,
// and numbers and conditions their form.
func TestRefusalsInWords(t *testing.T) {
	assert.Equal(t, `unit GCC-1 passed already, as revision "C" (on a simulated jig)`,
		English.Refusal("passed already", []string{"GCC-1", "C", "simulated"}))
	assert.Equal(t, `unit GCC-1 passed already, as revision "C"`, English.Refusal("passed already", []string{"GCC-1", "C", ""}))
	assert.Equal(t, "unit GCC-1 failed twice, and GCC-20 allows no more", English.Refusal("attempts used", []string{"GCC-1", "2", "GCC-20", ""}))
	assert.Equal(t, "Gerät GCC-1 ist 3-mal durchgefallen, und GCC-20 erlaubt keinen Versuch mehr",
		German.Refusal("attempts used", []string{"GCC-1", "3", "GCC-20", ""}))
	assert.Equal(t, "padjig records check --store x", English.Try(sequence.Said{Code: "check records", Args: []string{" --store x"}}))
	assert.Empty(t, English.Try(sequence.Said{}))
}
