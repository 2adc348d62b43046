package product

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"padjig/fixture/quantity"
)

// value is a number with a unit behind it: ohm, volt, ampere or a time.
type value interface{ ~float64 | ~int64 }

// bounds reads a field that says "at most X", "at least X" or "X to Y". An end
// that is not stated keeps what it had.
func bounds[Q value](o object, name string, parse func(string) (Q, error), lo, hi *Q) (place, bool) {
	f, found := o.get(name)
	if !found {
		return place{}, false
	}
	words := f.words()
	if len(words) == 0 {
		return place{}, false
	}
	okLo, okHi := true, true
	switch to := indexOf(words, "to"); {
	case leads(words, "at", "most") && hi != nil:
		*hi, okHi = quantityAt(f, words[2:], parse)
	case leads(words, "at", "least") && lo != nil:
		*lo, okLo = quantityAt(f, words[2:], parse)
	case to > 0 && lo != nil && hi != nil:
		*lo, okLo = quantityAt(f, words[:to], parse)
		*hi, okHi = quantityAt(f, words[to+1:], parse)
		if okLo && okHi && *lo >= *hi {
			f.wrong(f.at(), "bounds.backwards", name)
			okHi = false
		}
	default:
		shape := map[[2]bool]Code{{true, true}: "bounds", {true, false}: "bounds.least", {false, true}: "bounds.most"}
		f.wrong(f.at(), shape[[2]bool{lo != nil, hi != nil}], name, joined(words))
		return place{}, false
	}
	return f.at(), okLo && okHi
}

// exact reads a field that holds one value, such as "47 kohm".
func exact[Q value](o object, name string, parse func(string) (Q, error), q *Q) (place, bool) {
	f, found := o.get(name)
	if !found {
		return place{}, false
	}
	words := f.words()
	if len(words) == 0 {
		return place{}, false
	}
	v, ok := quantityAt(f, words, parse)
	if ok {
		*q = v
	}
	return words[0].place, ok
}

// plausible reads a field whose value must lie between least and most; one beyond is
// taken for a slip of the unit.
func plausible[Q value](o object, name string, parse func(string) (Q, error), format func(Q) string, least, most Q, q *Q) {
	at, ok := exact(o, name, parse, q)
	if ok && (*q < least || *q > most) {
		o.wrong(at, "value.odd", name, format(*q), format(least), format(most))
	}
}

func quantityAt[Q value](f field, words []word, parse func(string) (Q, error)) (Q, bool) {
	if len(words) == 0 {
		return 0, false
	}
	v, err := parse(joined(words))
	switch {
	case err != nil:
		f.wrong(words[0].place, "value", f.name.text, err)
		return 0, false
	case v < 0:
		f.wrong(words[0].place, "value.negative", f.name.text)
		return 0, false
	}
	return v, true
}

func parsePercent(text string) (float64, error) {
	v, ok := numberOf(text, "%")
	if !ok || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, errors.New(Code("percent").say(text))
	}
	return v / 100, nil
}

func percent(part float64) string { return strconv.FormatFloat(part*100, 'g', 4, 64) + " %" }

// duration is a time as messages show it.
type duration time.Duration

func (d duration) String() string { return quantity.FormatDuration(time.Duration(d)) }

func leads(words []word, first, second string) bool {
	return len(words) > 2 && words[0].text == first && words[1].text == second
}

// indexOf gives the place of a word that others follow, -1 when there is none.
func indexOf(words []word, text string) int {
	i := slices.IndexFunc(words, func(w word) bool { return w.text == text })
	if i == len(words)-1 {
		return -1
	}
	return i
}

func joined(words []word) string {
	return strings.Join(namesOf(words, func(w word) string { return w.text }), " ")
}

// namesOf gives the name of each.
func namesOf[T any](all []T, name func(T) string) []string {
	names := make([]string, len(all))
	for i, one := range all {
		names[i] = name(one)
	}
	return names
}

// whole reads a whole number between least and most.
func (o object) whole(name string, least, most int, n *int) bool {
	w, ok := o.line(name)
	if !ok {
		return false
	}
	v, err := strconv.Atoi(w.text)
	if err != nil || v < least || v > most {
		o.wrong(w.place, "whole", name, w.text, least, most)
		return false
	}
	*n = v
	return true
}

// numbers reads as many numbers without unit as out has room for.
func (o object) numbers(name string, least, most float64, out ...*float64) bool {
	f, found := o.get(name)
	if !found {
		return false
	}
	words := f.words()
	if len(words) != len(out) {
		f.wrong(f.at(), "numbers", name, len(out), strings.TrimSpace(strings.Repeat("1 ", len(out))))
		return false
	}
	for i, w := range words {
		v, err := strconv.ParseFloat(w.text, 64)
		if err != nil || math.IsNaN(v) || v < least || v > most {
			f.wrong(w.place, "number", name, w.text, least, most)
			return false
		}
		*out[i] = v
	}
	return true
}

// unprintable finds a character that would not show, or would upset what is
// printed beside it.
func unprintable(text string, spaces bool) (rune, bool) {
	i := strings.IndexFunc(text, func(r rune) bool { return !unicode.IsPrint(r) || r == ' ' && !spaces })
	if i < 0 {
		return 0, false
	}
	r, _ := utf8.DecodeRuneInString(text[i:])
	return r, true
}
