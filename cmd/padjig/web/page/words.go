package page

import (
	"io/fs"
	"slices"
	"strings"
	"time"

	"padjig/cmd/padjig/doctor"
	"padjig/results/floor"
	"padjig/results/report"
	"padjig/sequence"
	"padjig/sequence/product/mistakes"
	"padjig/sequence/wording"
)

// Catalogue is all text that people read, by language and key: that of the pages, and
// those of facts, answers and mistakes, which terminal and reports share.
type Catalogue = wording.Catalogue

// LoadCatalogue reads what lies in text/ of the files, and takes in what the packages below
// bring: the languages are those that any file is named after.
func LoadCatalogue(files ...fs.FS) (Catalogue, error) {
	all := wording.Facts()
	if err := all.Add(report.Texts(), mistakes.Texts(), doctor.Texts()); err != nil {
		return nil, err
	}
	for _, f := range files {
		c, err := wording.Read(f, "text")
		if err == nil {
			err = all.Add(c)
		}
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}

// Choose finds the first language of an Accept-Language header that there is, else
// the first of all.
func Choose(text Catalogue, accepted string) string {
	all := text.Languages()
	for part := range strings.SplitSeq(accepted, ",") {
		asked, _, _ := strings.Cut(strings.TrimSpace(part), ";")
		for asked != "" { // de-AT is content with de
			is := func(tag string) bool { return strings.EqualFold(tag, asked) }
			if i := slices.IndexFunc(all, is); i >= 0 {
				return all[i]
			}
			asked = asked[:max(strings.LastIndex(asked, "-"), 0)]
		}
	}
	return wording.First
}

// Words say things in a language, and times by the clock of the plant.
type Words struct {
	Lang  wording.Words // all that is said in it, facts too
	clock floor.Clock
}

// In is the words of a language.
func In(lang string, text Catalogue) Words { return Words{text.In(lang), floor.Clock{}} }

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
func (w Words) Say(key string, args ...any) string { return w.Lang.Say(key, args...) }

// Has reports whether there is such a text.
func (w Words) Has(key string) bool { return w.Lang.Has(key) }

// Key is the key of a fact's words, see [wording.Key].
func (w Words) Key(key string, args []string) string { return wording.Key(w.Lang, key, args) }

// Said is what is wrong with something, by its code.
func (w Words) Said(what sequence.Said) string {
	return w.Say("wrong."+string(what.Code), Each(what.Args)...)
}

// Told is all that an error says is wrong with what somebody wrote. One without codes is of
// what no page offers.
func (w Words) Told(err error) string {
	var all []string
	for _, what := range sequence.Wrongs(err) {
		all = append(all, w.Said(what))
	}
	if len(all) == 0 {
		return w.Say("charts.unknown")
	}
	return strings.Join(all, " ")
}

// Facts are the words for facts.
func (w Words) Facts() wording.Words { return w.Lang }

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
