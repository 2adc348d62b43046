package product

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every code that is reported has a sentence, and every sentence is of a code that is reported.
func TestEveryMistakeHasItsSentence(t *testing.T) {
	code := regexp.MustCompile(`\.Wrong\([^"\n]*"([a-z.]+)"`)
	own, err := filepath.Glob("*.go")
	require.NoError(t, err)
	common, err := filepath.Glob("../fields/*.go")
	require.NoError(t, err)
	var all strings.Builder
	for _, file := range slices.Concat(own, common) {
		if file == "sentence.go" || strings.HasSuffix(file, "_test.go") {
			continue
		}
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		all.Write(text)
		for _, m := range code.FindAllStringSubmatch(string(text), -1) {
			if slices.Contains(own, file) {
				assert.Contains(t, sentences, Code(m[1]), file)
			}
		}
	}
	for c := range sentences {
		assert.Contains(t, all.String(), `"`+string(c)+`"`, "nobody reports it")
	}
}

// rarer are mistakes of which no bad file is made: what is added to a good one, and what is said.
func rarer() map[Code][2]string {
	many := func(prefix string, n int) (all string) {
		for i := range n {
			all += fmt.Sprintf("%s%d ", prefix, i)
		}
		return all
	}
	return map[Code][2]string{
		"bad.not":          {"references: {good: A, bad: x}", `bad must be a set of units, each like "REF-2: key open at 7"`},
		"references.none":  {"references: {}", `references need a good unit; add "good: REF-1", its serial number`},
		"every":            {"references: {good: A, every: NaN h}", `every cannot be "NaN h"; write "8 h", "200 units"`},
		"within":           {"references: {good: A, within: NaN %}", `within cannot be "NaN %"; write a part`},
		"check.end":        {"serial: {format: 'A*#', check: luhn}", `"A*#" goes on after its check characters; put "*" at`},
		"check.letters":    {"serial: {format: 'A@#*', check: luhn}", `"A@#*" has letters, which luhn cannot check`},
		"check.missing":    {"serial: {format: 'A#*'}", `"A#*" has a check character (*) but no check`},
		"check.places":     {"serial: {format: 'A#**', check: luhn}", `has check characters (*): 2, but luhn needs 1; write "*"`},
		"format.character": {"serial: {format: 'A #'}", `"A #" may hold only ASCII letters`},
		"format.long":      {"serial: {format: " + strings.Repeat("'#'", 33) + "}", "is too long; write 64 characters at most"},
		"format.same":      {"serial: {format: ABC}", `"ABC" is the same for every unit`},
		"key.loose":        {"keys: {DOWNWARDS: {width: 2}}", `"DOWNWARDS" is not in the matrix; add its two lines`},
		"keys.many":        {"matrix:\n  rows: R1\n  columns: C1\n  keys: " + strings.ReplaceAll(strings.TrimSpace(many("a", 513)), " ", "&"), "514 keys; a product has 512 at most"},
		"lines.many":       {"lines: {direct: " + many("K", 65) + "}", "65 lines; a jig reaches 64 at most"},
		"tail.many":        {"tail: " + many("K", 65), "65 tail pins; a jig reaches 64 at most"},
		"line.character":   {"lines: {direct: \"K\u200b1\"}", `"K\u200b1" holds the character U+200B`},
		"percent":          {"scanner: {supply: 3.3 V, pull-up: 47 kohm, supply tolerance: x}", `"x" is no percentage; write it like "5 %"`},
		"renamed.counted":  {"keys: {UP: {lines: K1 COM, actuator: 2}}", `write "actuator number: 3", which counts`},
		"track.unknown":    {"tracks: {K1: AUF}", `track of K1: no key "AUF"`},
		"file.large":       {"title: " + strings.Repeat("x", MaxSize), "this is larger than 256 KiB"},
		"yaml.deep":        {"title: " + strings.Repeat("[", 20000), "a product file is a few levels deep"},
	}
}

// Every mistake shows all that it is given, and nothing else.
func TestSentencesFitTheirArguments(t *testing.T) {
	unseen := map[Code]bool{}
	for c := range sentences {
		unseen[c] = true
	}
	see := func(err error, name string) {
		var list Mistakes
		require.ErrorAs(t, err, &list, name)
		for _, m := range list {
			delete(unseen, m.Code)
			assert.NotEmpty(t, m.Message)
			assert.NotContains(t, m.Message, "%!", name)
		}
	}
	files, err := filepath.Glob("../../testdata/products/bad/*.yaml")
	require.NoError(t, err)
	for _, file := range files {
		_, err := Load(file)
		see(err, file)
	}
	good := map[string]string{"tail": "K1 COM", "lines": "{direct: K1, common: COM}", "keys": "{UP: K1 COM}"}
	for c, rare := range rarer() {
		text := "product: P\n"
		for _, name := range []string{"tail", "lines", "keys"} {
			if !strings.HasPrefix(rare[0], name+":") {
				text += name + ": " + good[name] + "\n"
			}
		}
		_, err := Parse("f", []byte(text+rare[0]+"\n"))
		see(err, string(c))
		assert.ErrorContains(t, err, rare[1], c)
		delete(unseen, c)
	}
	assert.Empty(t, unseen, "nothing makes these")
}
