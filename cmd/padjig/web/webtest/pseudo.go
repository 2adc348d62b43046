package webtest

import (
	"encoding/json"
	"io/fs"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web"
	"padjig/sequence/wording"
)

// PseudoTag is the language that the pseudo-language goes by: one with more forms of the
// plural than English has.
const PseudoTag = "pl"

// Pseudo is a file of text in a language that nobody speaks, made from English: an accent on
// every letter, two fifths longer, between brackets, with every place where it was. What is on
// a page without accents then is no text of the catalogue.
func Pseudo(t testing.TB) fs.FS {
	t.Helper()
	text, err := web.Texts(nil)
	require.NoError(t, err)
	made := map[string]string{}
	for key, said := range text[wording.First] {
		stem, counts := text.Counting(key)
		switch {
		case key == "number.point":
			made[key] = ","
		case counts && key == stem+".other":
			for _, name := range wording.Plurals(PseudoTag) {
				if name != "one" {
					made[stem+"."+name] = Accented(said)
				}
			}
		default:
			made[key] = Accented(said)
		}
	}
	raw, err := json.Marshal(made)
	require.NoError(t, err)
	return fstest.MapFS{"text/everything." + PseudoTag + ".json": {Data: raw}}
}

const (
	plain    = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
	accented = "áƀçðéƒĝĥîĵķļɱñöþʠŕšţûṽŵẋýžÁƁÇÐÉƑĜĤÎĴĶĻṀÑÖÞɊŔŠŢÛṼŴẊÝŽ"
	filler   = " öñé ţŵö ţĥŕéé ƒöûŕ ƒîṽé šîẋ"
)

// kept is what stays in a text: places of arguments, in both manners.
var kept = regexp.MustCompile(`\{\d(?: \w+)?\}|%(?:\[\d\])?[a-zA-Z%]`)

// Accented is a text of the pseudo-language.
func Accented(said string) string {
	letters := map[rune]rune{}
	to := []rune(accented)
	for i, r := range plain {
		letters[r] = to[i]
	}
	accent := func(part string) string {
		return strings.Map(func(r rune) rune {
			if other, is := letters[r]; is {
				return other
			}
			return r
		}, part)
	}
	var out strings.Builder
	at := 0
	for _, place := range kept.FindAllStringIndex(said, -1) {
		out.WriteString(accent(said[at:place[0]]) + said[place[0]:place[1]])
		at = place[1]
	}
	out.WriteString(accent(said[at:]))
	more := []rune(strings.Repeat(filler, 1+len(said)/len(filler)))
	return "⟪" + out.String() + strings.TrimRight(string(more[:(2*len([]rune(said))+4)/5]), " ") + "⟫"
}
