package mistakes

import (
	"errors"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// Each mistake can be said in each language with the same arguments.
func TestMistakesInEveryLanguage(t *testing.T) {
	verbs := regexp.MustCompile(`%(?:\[(\d)\])?[a-zA-Z]`)
	used := func(sentence string) (out []string) {
		for i, m := range verbs.FindAllStringSubmatch(strings.ReplaceAll(sentence, "%%", ""), -1) {
			place := m[1]
			if place == "" {
				place = strconv.Itoa(i + 1)
			}
			out = append(out, place+m[0][len(m[0])-1:])
		}
		slices.Sort(out)
		return slices.Compact(out)
	}
	texts := Texts()
	for lang, text := range texts {
		assert.Empty(t, texts.Lacking(lang), lang)
		for key, sentence := range texts[wording.First] {
			assert.Equal(t, used(sentence), used(text[key]), "%s: %s", lang, key)
		}
	}
	german, english := texts.In("de"), texts.In("en")
	_, err := product.Parse("a.yaml", []byte("product: FAN-4\ntail: R1 R2 C1 C9\nmatrix: {rows: R1 R2, columns: C1 C2, keys: {a: 1}}\nlimts: 1"))
	list, is := errors.AsType[product.Mistakes](err)
	require.True(t, is)
	for _, m := range list {
		said := In(german, m)
		assert.NotEqual(t, m.Message, said)
		assert.NotContains(t, said, "%!")
		assert.Equal(t, m.Message, In(english, m))
	}
	_, err = product.Parse("a.yaml", []byte("product: \"FAN-4\nlines: [a"))
	list, is = errors.AsType[product.Mistakes](err)
	require.True(t, is)
	assert.Contains(t, In(german, list[0]), "schließen")
}
