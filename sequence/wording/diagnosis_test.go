package wording

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/diagnose"
)

// Everything that a diagnosis can say has words, and there are no words for what none
// says. Its codes are read from where they are made: no list of them can be forgotten.
func TestEveryDiagnosisHasWords(t *testing.T) {
	codes := map[string]bool{}
	for _, from := range []struct{ file, code, prefixes string }{
		{"said.go", `"((?:at|read|masked|sum|check)\.[^"]+)"`, ""},
		{"trial.go", `"(came\.[^"]+)"`, ""},
		{"look.go", `c\.looked\(\d, "([^"]+)"`, "looked."},
		{"kind.go", ` Kind = "([^"]+)"`, "kind. remedy."},
		{"check.go", ` Action = "([^"]+)"`, "check."},
	} {
		text, err := os.ReadFile("../diagnose/" + from.file)
		require.NoError(t, err)
		found := regexp.MustCompile(from.code).FindAllStringSubmatch(string(text), -1)
		require.NotEmpty(t, found, from.file)
		for _, f := range found {
			for _, prefix := range strings.Split(from.prefixes, " ") {
				codes[prefix+strings.Join(f[1:], "")] = true
			}
		}
	}
	// What these two do is said by what a person does about the kind.
	delete(codes, "check."+string(diagnose.LookInside))
	delete(codes, "check."+string(diagnose.AskFixtureEngineer))
	assert.Greater(t, len(codes), 180)
	for code := range codes {
		for _, lang := range Languages {
			assert.NotEmpty(t, built()[lang][code], "%s: %s", lang, code)
		}
	}
	for key := range built()["en"] {
		if regexp.MustCompile(`^(read|masked|sum|check|came|looked|pattern|kind|remedy)\.`).MatchString(key) {
			assert.True(t, codes[key], "nothing says %q", key)
		}
	}
}

func TestADiagnosisInWords(t *testing.T) {
	d := diagnose.Diagnosis{
		Groups: []diagnose.Group{{Causes: []diagnose.Cause{{
			Kind: diagnose.ContactDirty, Place: diagnose.Said{Code: diagnose.AtKey, Args: []string{"7", "R3", "C1"}},
			Ohm: &diagnose.Estimate{Value: 639.8, U: 1},
		}, {}}}},
		Found: 2,
		Sum: []diagnose.Said{{Code: diagnose.Likeliest}, {Code: diagnose.OrOthers, Args: []string{"1"}},
			{Code: diagnose.AndMore, Args: []string{"2"}}, {Code: diagnose.FullStop}},
	}
	assert.Equal(t, "Likeliest: contact dirty: key 7 (R3-C1), 639.8 ± 2.0 ohm, k = 2 (or 1 other that the readings cannot tell from it); "+
		"and 2 more causes.", Words{}.Diagnosis().Sentence(d))
	assert.Equal(t, "Am wahrscheinlichsten: Kontakt verschmutzt: Taste 7 (R3-C1), 639.8 ± 2.0 ohm, k = 2 (oder 1 andere, die die Messwerte "+
		"nicht davon unterscheiden); und 2 weitere Ursachen.", Facts().In("de").Diagnosis().Sentence(d))
	read := []diagnose.Said{d.Groups[0].Causes[0].Place, {Code: diagnose.ReadOver, Args: []string{"1 Mohm"}}, {Code: diagnose.ReadLate}}
	assert.Equal(t, "key 7 (R3-C1) closed with over 1 Mohm opens late", Words{}.Diagnosis().Reading(read))
	assert.Equal(t, "Taste 7 (R3-C1) geschlossen mit über 1 Mohm öffnet spät", Facts().In("de").Diagnosis().Reading(read))
}

// Records keep the same words whatever catalogue is in use.
func TestKeptWordsAreTheProgramsOwn(t *testing.T) {
	other := Catalogue{"en": {"kind.contact dirty": "blah"}}.In("en")
	assert.Equal(t, "blah", other.Diagnosis().Kind(diagnose.ContactDirty))
	assert.Equal(t, "contact dirty", Kept().Kind(diagnose.ContactDirty))
}
