package web

import (
	"embed"
	"encoding/json"
	"fmt"
	"maps"
	"path"
	"slices"
	"strings"

	"padjig/results/report"
)

//go:embed text/*.json
var textFiles embed.FS

// Languages, by the tag of their file. The first one is shown to browsers that
// ask for none of them.
var languages = []string{"en", "de"}

// textParts are the files a language's text lies in, by what stands before its
// tag: the frame and the lanes, and the pages of the fixture engineer, of the
// quality engineer and of the returns desk.
var textParts = []string{"", "fixture.", "study.", "returns."}

// catalogue is all text that people read: by language and key.
type catalogue map[string]map[string]string

func loadCatalogue() (catalogue, error) {
	c := catalogue{}
	for _, lang := range languages {
		words := maps.Clone(report.Texts(lang)) // of answers, which are told in the same words everywhere
		for _, part := range textParts {
			raw, err := textFiles.ReadFile(path.Join("text", part+lang+".json"))
			if err != nil {
				return nil, err
			}
			if err := json.Unmarshal(raw, &words); err != nil {
				return nil, fmt.Errorf("text of %s%s: %w", part, lang, err)
			}
		}
		c[lang] = words
	}
	return c, nil
}

// say gives the text of a key with its arguments in the places {0}, {1}, ... A
// key that is missing comes out as itself between brackets that no text has.
func (c catalogue) say(lang, key string, args ...any) string {
	text, known := c[lang][key]
	if !known {
		text, known = c[languages[0]][key]
	}
	if !known {
		return "⟦" + key + "⟧"
	}
	for i, a := range args {
		text = strings.ReplaceAll(text, fmt.Sprintf("{%d}", i), fmt.Sprint(a))
	}
	return text
}

// has reports whether there is a text for a key.
func (c catalogue) has(key string) bool {
	_, known := c[languages[0]][key]
	return known
}

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
