// Package wording is the one catalogue of facts in words, in every language that there are files of: findings,
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
	"slices"
	"strconv"
	"strings"
	"sync"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
)

// First is the language that everything is said in, and the only one of the terminal. What
// another language lacks is said in it, text by text.
const First = "en"

// Catalogue is text that people read: by language and key, with places {0}, {1}, ...
// for arguments.
type Catalogue map[string]map[string]string

// Read reads the files of text in a folder, each named NAME.LANGUAGE.json and an object of keys
// and texts: the languages are those that files are named after.
func Read(files fs.FS, folder string) (Catalogue, error) {
	names, err := fs.Glob(files, path.Join(folder, "*.json"))
	if err != nil {
		return nil, err
	}
	c := Catalogue{}
	for _, name := range names {
		text, lang := map[string]string{}, strings.TrimPrefix(path.Ext(strings.TrimSuffix(name, ".json")), ".")
		if _, err := language.Parse(lang); err != nil || lang == "" {
			return nil, fmt.Errorf("text %s: a file of text is named NAME.LANGUAGE.json, with a language after BCP 47", name)
		}
		raw, err := fs.ReadFile(files, name)
		if err == nil {
			err = json.Unmarshal(raw, &text)
		}
		if err == nil {
			err = c.Add(Catalogue{lang: text})
		}
		if err != nil {
			return nil, fmt.Errorf("text %s: %w", name, err)
		}
	}
	return c, nil
}

// Add takes in other texts. It is an error when one has two texts for one key: one of them
// would never be read.
func (c Catalogue) Add(others ...Catalogue) error {
	for _, other := range others {
		for lang, text := range other {
			if c[lang] == nil {
				c[lang] = map[string]string{}
			}
			for key, said := range text {
				if _, twice := c[lang][key]; twice {
					return fmt.Errorf("%q is there twice", key)
				}
				c[lang][key] = said
			}
		}
	}
	return nil
}

// Languages are the tags of those there are, the first one first.
func (c Catalogue) Languages() []string {
	tags := slices.Sorted(maps.Keys(c))
	if i := slices.Index(tags, First); i > 0 {
		tags = slices.Insert(slices.Delete(tags, i, i+1), 0, First)
	}
	return tags
}

//go:embed text/*.json
var textFiles embed.FS

// built is the catalogue of facts that the program was built with.
var built = sync.OnceValue(func() Catalogue {
	c, err := Read(textFiles, "text")
	if err != nil {
		panic(err) // it is part of the program
	}
	return c
})

// Languages that facts can be told in, by the tags of their files.
var Languages = built().Languages()

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
		lang = First // with all that stands in its places
		text, known = c[lang][key]
	}
	if !known {
		return "⟦" + key + "⟧"
	}
	if !strings.Contains(text, "{") {
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
func Key(in interface{ Has(key string) bool }, key string, args []string) string {
	if len(args) > 0 && in.Has(key+"."+args[0]) {
		return key + "." + args[0]
	}
	return key
}

// place is where an argument stands, {0}, or stands in a form that the catalogue has
// words for, {0 times}.
var place = regexp.MustCompile(`\{(\d)(?: (\w+))?\}`)

// form gives an argument its form: the words for just that argument, those for its plural,
// also those that people know it by elsewhere, or those for any; of the language, else of the
// first one. One that is empty stays so.
func (c Catalogue) form(lang, form, arg string) string {
	if form == "" || arg == "" {
		return arg
	}
	for _, of := range []string{lang, First} {
		for _, key := range formKeys(of, form, arg) {
			if _, known := c[of][key]; known {
				return c.Say(of, key, arg)
			}
		}
	}
	if i := strings.LastIndex(arg, " "); i > 0 && strings.Trim(arg[i:], " 0123456789") == "" { // one of several, by its number
		if said := c.form(lang, form, arg[:i]); said != arg[:i] {
			return said + arg[i:]
		}
	}
	if parts := strings.Split(arg, ", "); len(parts) > 1 { // a list, each of which has its words
		for i, part := range parts {
			parts[i] = c.form(lang, form, part)
		}
		return strings.Join(parts, ", ")
	}
	return arg
}

// formKeys are the keys that an argument's form may have in a language, the closest first.
func formKeys(lang, form, arg string) []string {
	keys := []string{"form." + form + "." + arg}
	if many := PluralOf(lang, arg); many != "" {
		keys = append(keys, "form."+form+"."+many)
	}
	return append(keys, form+"."+arg, "form."+form, "form."+form+".other") // as of 10^21
}

// PluralOf is the form of the plural that a language has for a number as it is written, by the
// names and rules of Unicode CLDR (plurals, cardinal): English and German have "one" and
// "other", Polish "few" and "many" besides. It is empty for what is no number.
func PluralOf(lang, number string) string {
	whole, decimals, _ := strings.Cut(strings.NewReplacer("\u202f", "", "−", "", ",", ".").Replace(number), ".")
	n, err := strconv.ParseUint(strings.TrimPrefix(whole, "-"), 10, 64)
	if err != nil || len(decimals) > 9 {
		return ""
	}
	if n > 1_000_000 { // the rules look at the last six digits
		n = 1_000_000 + n%1_000_000
	}
	trimmed := strings.TrimRight(decimals, "0")
	f, t := 0, 0
	if decimals != "" {
		if f, err = strconv.Atoi(decimals); err != nil {
			return ""
		}
		t, _ = strconv.Atoi(trimmed)
	}
	return plurals[plural.Cardinal.MatchPlural(language.Make(lang), int(n), len(decimals), len(trimmed), f, t)]
}

// plurals are the forms by their names in CLDR.
var plurals = map[plural.Form]string{
	plural.Zero: "zero", plural.One: "one", plural.Two: "two", plural.Few: "few", plural.Many: "many", plural.Other: "other",
}

// Plurals are the forms that a language has: those for whole numbers, and "other", which is
// also that of what is none.
func Plurals(lang string) (names []string) {
	names = []string{"other"}
	for n := range 1001 { // "many" of some begins with millions, which nobody counts here
		if name := PluralOf(lang, strconv.Itoa(n)); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// Lacking are the keys that a language has no text for and is said in the first one, in order.
// Of words for numbers it needs those that its own texts name, in each of its plurals: a
// language has cases that the first one does not have.
func (c Catalogue) Lacking(lang string) (keys []string) {
	for key := range c[First] {
		if _, counts := c.Counting(key); !counts {
			keys = append(keys, key)
		}
	}
	for _, text := range c[lang] {
		for _, found := range place.FindAllStringSubmatch(text, -1) {
			if stem := "form." + found[2]; c.counts(lang, stem) || c.counts(First, stem) {
				for _, name := range Plurals(lang) {
					keys = append(keys, stem+"."+name)
				}
			}
		}
	}
	slices.Sort(keys)
	return slices.DeleteFunc(slices.Compact(keys), func(key string) bool { _, known := c[lang][key]; return known })
}

// Counting reports whether a key is that of one form of words for numbers, and what the keys
// of all its forms begin with: the first language has one and other.
func (c Catalogue) Counting(key string) (stem string, is bool) {
	stem = strings.TrimSuffix(strings.TrimSuffix(key, ".one"), ".other")
	return stem, stem != key && c.counts(First, stem)
}

// counts reports whether a language has words for numbers under keys that begin so.
func (c Catalogue) counts(lang, stem string) bool {
	one, other := c[lang][stem+".one"], c[lang][stem+".other"]
	return one != "" && other != ""
}

// Has reports whether there is a text for a key.
func (c Catalogue) Has(key string) bool {
	_, known := c[First][key]
	return known
}
