package report

import (
	"embed"
	"fmt"
	"maps"
	"math"
	"strconv"
	"strings"
	"time"

	"padjig/results/answers"
	"padjig/results/floor"
	"padjig/sequence/wording"
)

//go:embed text/*.json
var textFiles embed.FS

// own are the sentences of answers, and the heads of tables, by language and code; texts are
// they and the facts, whose words for numbers are for all.
var own, texts = func() (own, all wording.Catalogue) {
	own, err := wording.Read(textFiles, "text")
	all = wording.Facts()
	if err == nil {
		err = all.Add(own)
	}
	if err != nil {
		panic(err) // embedded: a build with it broken passes no test
	}
	return own, all
}()

// Texts are all texts of answers, a copy for the caller.
func Texts() wording.Catalogue {
	c := wording.Catalogue{}
	for lang, text := range own {
		c[lang] = maps.Clone(text)
	}
	return c
}

// terminal is the language of the command line.
var terminal = texts.In(wording.First)

// having are the words that have a text: those given, which may be of a catalogue without the
// texts of answers, or the built ones of that language.
func having(lang wording.Words, code string) wording.Words {
	if lang.Has(code) {
		return lang
	}
	return texts.In(lang.Tag)
}

// word is the text of a code; a code without one stands between brackets that
// no text has.
func word(lang wording.Words, code string) string { return having(lang, code).Say(code) }

// Say writes a sentence.
func Say(lang wording.Words, s answers.Sentence) string {
	args := make([]any, len(s.Args))
	for i, a := range s.Args {
		args[i] = argument(lang, a)
	}
	return having(lang, s.Code).Say(s.Code, args...)
}

// Told is a sentence as it stands alone: with a sign when somebody should look.
func Told(lang wording.Words, s answers.Sentence) string {
	if s.Tone == answers.Attention {
		return word(lang, "attention") + " " + Say(lang, s)
	}
	return Say(lang, s)
}

func argument(lang wording.Words, a any) string {
	switch a := a.(type) {
	case int:
		return Whole(a)
	case answers.Number:
		return Number(lang, a.Digits, a.Value)
	case answers.Figure:
		return Number(lang, DigitsFor(float64(a)), float64(a))
	case answers.Short:
		return strconv.FormatFloat(float64(a), 'g', 3, 64)
	case answers.Percent:
		return Number(lang, a.Digits, 100*a.Value) + " %"
	case answers.Chance:
		return Probability(lang, float64(a))
	case answers.Part:
		return Part(lang, answers.Estimate(a))
	case answers.Names:
		return cut(a)
	case answers.Word:
		return word(lang, string(a))
	case answers.Sentence:
		return Say(lang, a)
	case time.Time:
		return a.Format(floor.MinuteForm)
	}
	return fmt.Sprint(a)
}

// cut lists a few of many names.
func cut(names []string) string {
	const most = 12
	if len(names) > most {
		return strings.Join(names[:most], ", ") + " …"
	}
	return strings.Join(names, ", ")
}

// Part writes a share in per cent with its interval.
func Part(lang wording.Words, e answers.Estimate) string {
	if math.IsNaN(e.Value) {
		return "–"
	}
	d := shareDigits(100 * (e.High - e.Low))
	text := func(v float64) string { return Number(lang, d, 100*v) }
	return Say(lang, answers.Sentence{Code: "part.of", Args: []any{text(e.Value), text(e.Low), text(e.High)}})
}

// shareDigits are as many as an interval in per cent leaves meaning to.
func shareDigits(wide float64) int {
	switch {
	case wide >= 5:
		return 0
	case wide >= 0.5:
		return 1
	}
	return 2
}

// Number writes a number as a language does, a dash for none.
func Number(lang wording.Words, digits int, v float64) string {
	switch {
	case math.IsNaN(v):
		return "–"
	case math.IsInf(v, 1):
		return "∞"
	case math.IsInf(v, -1):
		return "−∞"
	}
	text := strings.Replace(strconv.FormatFloat(v, 'f', digits, 64), ".", word(lang, "number.point"), 1)
	return strings.Replace(text, "-", "−", 1)
}

// DigitsFor are so many that about four of a number mean something.
func DigitsFor(x float64) int {
	switch a := math.Abs(x); {
	case a >= 1000 || a == 0:
		return 0
	case a >= 100:
		return 1
	case a >= 10:
		return 2
	}
	return 3
}

// Whole writes a count with narrow spaces between thousands.
func Whole(n int) string {
	text := strconv.Itoa(n)
	for i := len(text) - 3; i > 0 && n >= 10000; i -= 3 {
		text = text[:i] + "\u202f" + text[i:]
	}
	return text
}

// Probability writes a p: small ones as below a ten-thousandth.
func Probability(lang wording.Words, p float64) string {
	if p < 0.0001 {
		return "< " + Number(lang, 4, 0.0001)
	}
	return Number(lang, 4, p)
}
