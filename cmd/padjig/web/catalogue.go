package web

import (
	"embed"
	"maps"
	"slices"
	"strings"

	"padjig/results/report"
	"padjig/sequence/wording"
)

//go:embed text/*.json
var textFiles embed.FS

// Languages, by the tag of their file. The first one is shown to browsers that
// ask for none of them.
var languages = wording.Languages

// textParts are the files a language's text lies in, by what stands before its
// tag: the frame and the lanes, and the pages of the fixture engineer, of the
// quality engineer and of the returns desk.
var textParts = []string{"", "fixture.", "study.", "returns."}

// catalogue is all text that people read, by language and key: that of the pages, and
// that of facts, which terminal and reports share.
type catalogue wording.Catalogue

func loadCatalogue() (catalogue, error) {
	c, err := wording.Read(textFiles, "text", textParts...)
	facts := wording.Facts()
	for lang := range c {
		maps.Copy(c[lang], report.Texts(lang)) // of answers
		maps.Copy(c[lang], facts[lang])
	}
	return catalogue(c), err
}

func (c catalogue) say(lang, key string, args ...any) string {
	return wording.Catalogue(c).Say(lang, key, args...)
}

// facts are the words for facts in a language.
func (c catalogue) facts(lang string) wording.Words { return wording.Catalogue(c).In(lang) }

func (c catalogue) has(key string) bool { return wording.Catalogue(c).Has(key) }

// choose finds the first language of an Accept-Language header that there is.
func choose(accepted string) string {
	for part := range strings.SplitSeq(accepted, ",") {
		tag, _, _ := strings.Cut(strings.TrimSpace(part), ";")
		tag, _, _ = strings.Cut(strings.ToLower(tag), "-")
		if slices.Contains(languages, tag) {
			return tag
		}
	}
	return languages[0]
}
