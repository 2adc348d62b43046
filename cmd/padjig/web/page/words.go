package page

import (
	"io/fs"
	"maps"
	"slices"
	"strings"
	"time"

	"padjig/results/floor"
	"padjig/results/report"
	"padjig/sequence/wording"
)

// textParts are the files a language's text lies in, by what stands before its
// tag: the frame and the lanes, the pages of the fixture engineer, of the quality
// engineer and of the returns desk, those of lots, shifts and accounts, and the help of all pages.
var textParts = []string{"", "fixture.", "study.", "returns.", "people.", "help."}

// Catalogue is all text that people read, by language and key: that of the pages, and
// that of facts, which terminal and reports share.
type Catalogue = wording.Catalogue

// LoadCatalogue reads what lies in text/.
func LoadCatalogue(files fs.FS) (Catalogue, error) {
	c, err := wording.Read(files, "text", textParts...)
	facts := wording.Facts()
	for lang := range c {
		maps.Copy(c[lang], report.Texts(lang)) // of answers
		maps.Copy(c[lang], facts[lang])
	}
	return c, err
}

// Choose finds the first language of an Accept-Language header that there is, else
// the first of all.
func Choose(accepted string) string {
	for part := range strings.SplitSeq(accepted, ",") {
		tag, _, _ := strings.Cut(strings.TrimSpace(part), ";")
		tag, _, _ = strings.Cut(strings.ToLower(tag), "-")
		if slices.Contains(wording.Languages, tag) {
			return tag
		}
	}
	return wording.Languages[0]
}

// Words say things in a language, and times by the clock of the plant.
type Words struct {
	Lang  string
	text  Catalogue
	clock floor.Clock
}

// In is the words of a language.
func In(lang string, text Catalogue) Words { return Words{lang, text, floor.Clock{}} }

// By is the same words with times by another clock.
func (w Words) By(zone *time.Location) Words {
	w.clock = floor.ClockOf(zone)
	return w
}

// Zone is where the plant's clock stands.
func (w Words) Zone() *time.Location { return w.clock.Zone() }

// Clock, Date and Moment write a time by the clock of the plant.
func (w Words) Clock(t time.Time) string { return w.clock.Hour(t) }

// Date is the day of a time in the plant.
func (w Words) Date(t time.Time) string { return w.clock.Day(t) }

// Moment is day and time.
func (w Words) Moment(t time.Time) string { return w.clock.Minute(t) }

// Times is the clock of the plant.
func (w Words) Times() floor.Clock { return w.clock }

// Ago says how long ago something was, its moment when that is long.
func (w Words) Ago(t, now time.Time) string {
	switch past := now.Sub(t); {
	case past < 0 || past >= 7*24*time.Hour:
		return w.Moment(t)
	case past < time.Minute:
		return w.Say("ago.now")
	case past < time.Hour:
		return w.Say("ago.minutes", int(past.Minutes()))
	case past < 24*time.Hour:
		return w.Say("ago.hours", int(past.Hours()))
	default:
		return w.Say("ago.days", int(past.Hours()/24))
	}
}

// Say is a text of the catalogue, with values in its places.
func (w Words) Say(key string, args ...any) string { return w.text.Say(w.Lang, key, args...) }

// Has reports whether there is such a text.
func (w Words) Has(key string) bool { return w.text.Has(key) }

// Key is the key of a fact's words, see [wording.Catalogue.Key].
func (w Words) Key(key string, args []string) string { return w.text.Key(key, args) }

// Facts are the words for facts.
func (w Words) Facts() wording.Words { return w.text.In(w.Lang) }

// Num writes a number with so many digits, a dash for none.
func (w Words) Num(digits int, x float64) string { return report.Number(w.Lang, digits, x) }

// Near writes a value with about four digits that mean something.
func (w Words) Near(x float64) string { return w.Num(report.DigitsFor(x), x) }

// Each are words as values of a text.
func Each(args []string) []any {
	out := make([]any, len(args))
	for i, a := range args {
		out[i] = a
	}
	return out
}

// Key makes a word of the records one for keys of the catalogue.
func Key(text string) string { return strings.ReplaceAll(text, " ", "-") }
