// Package wording is the one catalogue of facts in words, English and German: findings,
// why runs ended, what keeps a unit from being tested, and what to do about each. A
// fact is a code with arguments; here it becomes a sentence, last of all, for terminal,
// reports and pages alike. Nothing is concluded from what comes out.
package wording

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
)

// Languages, by the tag of their file. What a language lacks is said in the first.
var Languages = []string{"en", "de"}

// Catalogue is text that people read: by language and key, with places {0}, {1}, ...
// for arguments.
type Catalogue map[string]map[string]string

// Read reads files of text named PART.LANGUAGE.json, each an object of keys and texts.
func Read(files fs.FS, folder string, parts ...string) (Catalogue, error) {
	c := Catalogue{}
	for _, lang := range Languages {
		text := map[string]string{}
		for _, part := range parts {
			raw, err := fs.ReadFile(files, path.Join(folder, part+lang+".json"))
			if err != nil {
				return nil, err
			}
			if err := json.Unmarshal(raw, &text); err != nil {
				return nil, fmt.Errorf("text of %s%s: %w", part, lang, err)
			}
		}
		c[lang] = text
	}
	return c, nil
}

//go:embed text/*.json
var textFiles embed.FS

// built is the catalogue of facts that the program was built with.
var built = sync.OnceValue(func() Catalogue {
	c, err := Read(textFiles, "text", "facts.", "diagnosis.")
	if err != nil {
		panic(err) // it is part of the program
	}
	return c
})

// Facts is the catalogue of facts that the program was built with, a copy for the caller.
func Facts() Catalogue {
	c := Catalogue{}
	for lang, text := range built() {
		c[lang] = maps.Clone(text)
	}
	return c
}

// Say gives the text of a key with its arguments in their places. A key that is
// missing comes out as itself between brackets that no text has.
func (c Catalogue) Say(lang, key string, args ...any) string {
	text, known := c[lang][key]
	if !known {
		text, known = c[Languages[0]][key]
	}
	if !known {
		return "⟦" + key + "⟧"
	}
	if len(args) == 0 {
		return text
	}
	return place.ReplaceAllStringFunc(text, func(at string) string {
		found := place.FindStringSubmatch(at)
		i := int(found[1][0] - '0')
		if i >= len(args) {
			return at
		}
		return c.form(lang, found[2], fmt.Sprint(args[i]))
	})
}

// Key is the key of a fact's words: where its first argument says which of several it is,
// those for just that.
func (c Catalogue) Key(key string, args []string) string {
	if len(args) > 0 && c.Has(key+"."+args[0]) {
		return key + "." + args[0]
	}
	return key
}

// place is where an argument stands, {0}, or stands in a form that the catalogue has
// words for, {0 times}.
var place = regexp.MustCompile(`\{(\d)(?: (\w+))?\}`)

// form gives an argument its form: the words for just that argument, also those that
// people know it by elsewhere, those for its plural, or those for any. One that is empty stays so.
func (c Catalogue) form(lang, form, arg string) string {
	one, any := "form."+form+"."+arg, "form."+form
	many := any + "." + pluralOf(lang, arg)
	switch {
	case form == "" || arg == "":
		return arg
	case c.Has(one):
		return c.Say(lang, one)
	case c[lang][many] != "":
		return c.Say(lang, many, arg)
	case c.Has(form + "." + arg):
		return c.Say(lang, form+"."+arg)
	case c.Has(any):
		return c.Say(lang, any, arg)
	case strings.Contains(arg, ", "): // a list, each of which has its words
		parts := strings.Split(arg, ", ")
		for i, part := range parts {
			parts[i] = c.form(lang, form, part)
		}
		return strings.Join(parts, ", ")
	}
	return arg
}

// pluralOf is the form of the plural that a language has for a whole number, by the names and
// rules of Unicode CLDR (plurals, cardinal): English and German have "one" and "other", Polish
// "few" and "many" besides. It is empty for what is no whole number.
func pluralOf(lang, number string) string {
	n, err := strconv.Atoi(number)
	if err != nil {
		return ""
	}
	n = max(n, -n)
	if n > 1_000_000 { // the rules look at the last six digits
		n = 1_000_000 + n%1_000_000
	}
	switch plural.Cardinal.MatchPlural(language.Make(lang), n, 0, 0, 0, 0) {
	case plural.Zero:
		return "zero"
	case plural.One:
		return "one"
	case plural.Two:
		return "two"
	case plural.Few:
		return "few"
	case plural.Many:
		return "many"
	}
	return "other"
}

// Has reports whether there is a text for a key.
func (c Catalogue) Has(key string) bool {
	_, known := c[Languages[0]][key]
	return known
}
