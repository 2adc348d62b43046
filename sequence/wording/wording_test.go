package wording

import (
	"regexp"
	"slices"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence"
)

// german are the words of the program in German.
var german = Facts().In("de")

// Every fact that a run can say has words in every language, with the same arguments.
func TestEveryFactHasWords(t *testing.T) {
	places, manners, reasons := sequence.Codes()
	facts := Facts()
	var keys []string
	for prefix, codes := range map[string][]sequence.Code{"at.": places, "how.": manners, "why.": reasons, "shown.": sequence.Checks()} {
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
			assert.NotEmpty(t, facts[lang][key], "%s: %s", lang, key)
		}
	}
}

// Every language that is whole says everything, with the same arguments; it may have words for
// numbers of its own.
func TestLanguagesAreWhole(t *testing.T) {
	argument := regexp.MustCompile(`\{(\d)[^}]*\}`)
	in := func(text string) (places []string) {
		for _, found := range argument.FindAllStringSubmatch(text, -1) {
			places = append(places, found[1])
		}
		slices.Sort(places)
		return slices.Compact(places)
	}
	facts := Facts()
	for _, lang := range []string{"en", "de"} {
		assert.Empty(t, facts.Lacking(lang), lang)
		for key, text := range facts[lang] {
			if english, is := facts[First][key]; is {
				assert.Equal(t, in(english), in(text), "%s: %s", lang, key)
			}
		}
	}
}

// What a number counts goes by the rules of the language, for every form that a text names.
func TestNumbersHaveTheirPlurals(t *testing.T) {
	c := Catalogue{"en": {"a": "{0 units} of {1}", "form.units.one": "{0} unit", "form.units.other": "{0} units", "only": "{0 units}"},
		"pl": {"a": "{0 units} z {1}", "form.units.one": "{0} sztuka", "form.units.few": "{0} sztuki", "form.units.many": "{0} sztuk"}}
	for number, want := range map[string]string{"0": "0 sztuk", "1": "1 sztuka", "2": "2 sztuki", "5": "5 sztuk", "21": "21 sztuk", "22": "22 sztuki"} {
		assert.Equal(t, want+" z 9", c.Say("pl", "a", number, 9))
	}
	assert.Equal(t, "12\u202f345 sztuk z 9", c.Say("pl", "a", "12\u202f345", 9), "as it is written")
	assert.Equal(t, "1,5 units z 9", c.Say("pl", "a", "1,5", 9), "a form that it lacks is said in the first language")
	assert.Equal(t, "1 unit", c.Say("pl", "only", 1), "and so is a text, with all that stands in it")
	assert.Equal(t, []string{"form.units.other", "only"}, c.Lacking("pl"))
	assert.Equal(t, []string{"few", "many", "one", "other"}, Plurals("pl"))
	assert.Equal(t, []string{"few", "many", "one", "other", "two", "zero"}, Plurals("ar"))
	for number, want := range map[string]string{"1": "one", "1.0": "other", "1,5": "other", "-1": "one", "−1": "one", "0": "other", "x": "", "7-": "", "": "", "1.": "one"} {
		assert.Equal(t, want, PluralOf("en", number), number)
	}
	assert.Equal(t, "one", PluralOf("fr", "1,5"))
}

// Languages are the files that are there, and the first is English; a file that is none, and a
// text that is there twice, are mistakes that are named.
func TestLanguagesAreFiles(t *testing.T) {
	file := func(text string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(text)} }
	c, err := Read(fstest.MapFS{"text/a.fr.json": file(`{"x": "le {0}"}`), "text/b.en.json": file(`{"x": "the {0}", "y": "{0 z}"}`),
		"text/a.pt-BR.json": file("{}"), "text/a.de.json": file("{}")}, "text")
	require.NoError(t, err)
	assert.Equal(t, []string{"en", "de", "fr", "pt-BR"}, c.Languages())
	assert.Equal(t, "le 7", c.Say("fr", "x", 7))
	assert.Equal(t, []string{"y"}, c.Lacking("fr"))
	for name, text := range map[string]string{"text/fr.klingonese.json": "{}", "text/fr.json": "{}", "text/a.fr.json": `{"x": 1}`} {
		_, err := Read(fstest.MapFS{name: file(text)}, "text")
		assert.ErrorContains(t, err, name)
	}
	_, err = Read(fstest.MapFS{"text/a.fr.json": file(`{"x": "a"}`), "text/b.fr.json": file(`{"x": "b"}`)}, "text")
	assert.ErrorContains(t, err, `"x" is there twice`)
}

func TestAFindingInWords(t *testing.T) {
	f := sequence.Finding{
		What: "leak", Place: "as it was recorded", Value: new(sequence.Number(8e5)), Limit: new(sequence.Number(1e7)), Unit: "ohm",
		At:  sequence.Said{Code: sequence.AtLines, Args: []string{"R3", "3", "{0}", "4"}},
		How: []sequence.Said{{Code: sequence.WhileFalling}, {Code: sequence.OnlyAfter}},
	}
	assert.Equal(t, "leak: between R3 (pin 3) and {0} (pin 4); falling while watched; only after the keys were pressed, 800 kohm, limit 10 Mohm",
		Words{}.Finding(f))
	assert.Equal(t, "Leck: zwischen R3 (Pin 3) und {0} (Pin 4); fällt beim Beobachten; erst nachdem die Tasten gedrückt waren, "+
		"800 kohm, Grenze 10 Mohm", german.Finding(f))
	assert.Equal(t, "between R3 (pin 3) and {0} (pin 4)", Words{}.Where(f))

	f.At, f.How = sequence.Said{}, nil
	assert.Equal(t, "Leck: as it was recorded, 800 kohm, Grenze 10 Mohm", german.Finding(f), "an earlier version's own words")
	f.At = sequence.Said{Code: "behind the moon", Args: []string{"R3"}}
	assert.Contains(t, german.Finding(f), "behind the moon R3", "a later version's code")
}

func TestAReasonInWords(t *testing.T) {
	run := sequence.Run{Reason: "as it was recorded", Why: sequence.Said{Code: sequence.NeverPressed, Args: []string{"7, 8"}}}
	text, known := german.Why(run)
	assert.Equal(t, "nie gedrückt: 7, 8", text)
	assert.True(t, known)
	for _, why := range []sequence.Said{{}, {Code: sequence.JigFailed, Args: []string{"x"}}} {
		run.Why = why
		text, known = german.Why(run)
		assert.Equal(t, "as it was recorded", text)
		assert.False(t, known)
	}
}

// What keeps a unit from being tested is said in full: every argument has its place,
// and numbers and conditions their form.
func TestRefusalsInWords(t *testing.T) {
	assert.Equal(t, `unit GCC-1 passed already, as revision "C" (on a simulated jig)`,
		Words{}.Refusal("passed already", []string{"GCC-1", "C", "simulated"}))
	assert.Equal(t, `unit GCC-1 passed already, as revision "C"`, Words{}.Refusal("passed already", []string{"GCC-1", "C", ""}))
	assert.Equal(t, "unit GCC-1 failed twice, and GCC-20 allows no more", Words{}.Refusal("attempts used", []string{"GCC-1", "2", "GCC-20", ""}))
	assert.Equal(t, "Gerät GCC-1 ist 3-mal durchgefallen, und GCC-20 erlaubt keinen Versuch mehr",
		german.Refusal("attempts used", []string{"GCC-1", "3", "GCC-20", ""}))
	assert.Equal(t, "padjig records check --store x", Words{}.Try(sequence.Said{Code: "check records", Args: []string{" --store x"}}))
	assert.Empty(t, Words{}.Try(sequence.Said{}))
}

// What a reference unit did not show: in English as the record has it, in German with
// all that the run says for itself in German too.
func TestAReferenceUnitInWords(t *testing.T) {
	open := sequence.Finding{What: "key open", At: sequence.Fact(sequence.AtKey, "7", "R3", "C1"), Limit: new(sequence.Number(300)), Unit: "ohm"}
	failed := sequence.Run{Outcome: sequence.Fail, Findings: []sequence.Finding{open}}
	again := sequence.Run{Outcome: sequence.Reseat, Why: sequence.Fact(sequence.SeatNone)}
	for _, run := range []*sequence.Run{&failed, &again} {
		sequence.Plain().Spell(run)
	}
	const found = "key open: key 7 (R3-C1), limit 300 ohm"
	for _, c := range []struct {
		run    sequence.Run
		why    sequence.Said
		de, en string
	}{
		{failed, sequence.Fact(sequence.AlsoFound, found),
			"außerdem gefunden: Taste offen: Taste 7 (R3-C1), Grenze 300 ohm", "also found " + found},
		{failed, sequence.Fact(sequence.GoodYet, "fail", found),
			"ein gutes Gerät, und doch schlecht: Taste offen: Taste 7 (R3-C1), Grenze 300 ohm", "a good unit, yet fail: " + found},
		{failed, sequence.Fact(sequence.NotFound, "lines shorted"),
			`"Leitungen kurzgeschlossen" wurde nicht gefunden, wo es ist`, `"lines shorted" was not found where it is`},
		{again, sequence.Fact(sequence.MustFailYet, "key open", "reseat", again.Reason),
			`muss durchfallen wegen "Taste offen", und doch neu einlegen: ` + first(german.Why(again)),
			`must fail for "key open", yet reseat: no pin has contact: is there a unit in the jig?`},
		{sequence.Run{Outcome: sequence.Pass}, sequence.Fact(sequence.BeyondBand, "5", "105 ohm", "+20", "87.5 ohm", "15"),
			"Taste 5 hat 105 ohm, +20 % gegenüber den 87.5 ohm ihrer ersten Prüfung, Band 15 %",
			"key 5 reads 105 ohm, +20 % from the 87.5 ohm of its first check, band 15 %"},
	} {
		assert.Equal(t, c.de, german.Check(c.why, c.run))
		assert.Equal(t, c.en, Words{}.Check(c.why, c.run))
		assert.Equal(t, c.en, sequence.Plain().Of(c.why), "what is stored")
	}
}
