// Package mistakes says the mistakes in a product file in the languages of the pages.
package mistakes

import (
	"embed"
	"maps"
	"sync"

	"padjig/sequence/fields"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

//go:embed text/*.json
var textFiles embed.FS

// built are the sentences of mistakes: in English as the packages that find them have them,
// in other languages from files. Their places are those of package fmt.
var built = sync.OnceValue(func() wording.Catalogue {
	c, err := wording.Read(textFiles, "text")
	english := map[string]string{}
	for _, sentences := range []map[fields.Code]string{fields.Sentences(), product.Sentences()} {
		for code, sentence := range sentences {
			english[key(code)] = sentence
		}
	}
	if err == nil {
		err = c.Add(wording.Catalogue{wording.First: english})
	}
	if err != nil {
		panic(err) // it is part of the program
	}
	return c
})

// Texts are the sentences of mistakes in every language, a copy for the caller.
func Texts() wording.Catalogue {
	c := wording.Catalogue{}
	for lang, text := range built() {
		c[lang] = maps.Clone(text)
	}
	return c
}

func key(code fields.Code) string { return "mistake." + string(code) }

// In says a mistake in the words of a catalogue that has these sentences. The words of the
// file itself stay as they are written there, and so does what came from elsewhere.
func In(words wording.Words, m fields.Mistake) string {
	return fields.Worded(m, func(code fields.Code) (sentence string, is bool) {
		return words.Say(key(code)), code != "" && words.Has(key(code))
	})
}
