package fields

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Number is a number with a unit behind it: ohm, volt, ampere or a time.
type Number interface{ ~float64 | ~int64 }

// Bounds reads a field that says "at most X", "at least X" or "X to Y". An end
// that is not stated keeps what it had.
func Bounds[Q Number](o Object, name string, parse func(string) (Q, error), lo, hi *Q) (Place, bool) {
	f, _ := o.Get(name)
	if _, ok := o.Line(name); !ok {
		return Place{}, false
	}
	words := f.Words()
	okLo, okHi := true, true
	switch to := IndexOf(words, "to"); {
	case leads(words, "at", "most") && hi != nil:
		*hi, okHi = Quantity(f, words[2:], parse)
	case leads(words, "at", "least") && lo != nil:
		*lo, okLo = Quantity(f, words[2:], parse)
	case to > 0 && lo != nil && hi != nil:
		*lo, okLo = Quantity(f, words[:to], parse)
		*hi, okHi = Quantity(f, words[to+1:], parse)
		if okLo && okHi && *lo >= *hi {
			f.Wrong(f.At(), "bounds.backwards", name)
			okHi = false
		}
	default:
		shape := map[[2]bool]Code{{true, true}: "bounds", {true, false}: "bounds.least", {false, true}: "bounds.most"}
		f.Wrong(f.At(), shape[[2]bool{lo != nil, hi != nil}], name, Joined(words))
		return Place{}, false
	}
	return f.At(), okLo && okHi
}

// Exact reads a field that holds one value, such as "47 kohm".
func Exact[Q Number](o Object, name string, parse func(string) (Q, error), q *Q) (Place, bool) {
	f, _ := o.Get(name)
	if _, ok := o.Line(name); !ok {
		return Place{}, false
	}
	words := f.Words()
	v, ok := Quantity(f, words, parse)
	if ok {
		*q = v
	}
	return words[0].Place, ok
}

// Plausible reads a field whose value must lie between least and most; one beyond is
// taken for a slip of the unit.
func Plausible[Q Number](o Object, name string, parse func(string) (Q, error), format func(Q) string, least, most Q, q *Q) {
	at, ok := Exact(o, name, parse, q)
	if ok && (*q < least || *q > most) {
		o.Wrong(at, "value.odd", name, format(*q), format(least), format(most))
	}
}

// Quantity reads words as one value with its unit.
func Quantity[Q Number](f Field, words []Word, parse func(string) (Q, error)) (Q, bool) {
	if len(words) == 0 {
		return 0, false
	}
	v, err := parse(Joined(words))
	switch {
	case err != nil:
		f.Wrong(words[0].Place, "value", f.Name.Text, err)
		return 0, false
	case v < 0:
		f.Wrong(words[0].Place, "value.negative", f.Name.Text)
		return 0, false
	}
	return v, true
}

func leads(words []Word, first, second string) bool {
	return len(words) > 2 && words[0].Text == first && words[1].Text == second
}

// IndexOf gives the place of a word that others follow, -1 when there is none.
func IndexOf(words []Word, text string) int {
	i := slices.IndexFunc(words, func(w Word) bool { return w.Text == text })
	if i == len(words)-1 {
		return -1
	}
	return i
}

// Joined puts words together again, one space between them.
func Joined(words []Word) string {
	return strings.Join(Names(words, func(w Word) string { return w.Text }), " ")
}

// Names gives the name of each.
func Names[T any](all []T, name func(T) string) []string {
	names := make([]string, len(all))
	for i, one := range all {
		names[i] = name(one)
	}
	return names
}

// Whole reads a whole number between least and most.
func (o Object) Whole(name string, least, most int, n *int) bool {
	w, ok := o.Line(name)
	if !ok {
		return false
	}
	v, err := strconv.Atoi(w.Text)
	if err != nil || v < least || v > most {
		o.Wrong(w.Place, "whole", name, w.Text, least, most)
		return false
	}
	*n = v
	return true
}

// Numbers reads as many numbers without unit as out has room for.
func (o Object) Numbers(name string, least, most float64, out ...*float64) bool {
	f, found := o.Get(name)
	if !found {
		return false
	}
	words := f.Words()
	if len(words) != len(out) {
		f.Wrong(f.At(), "numbers", name, len(out), strings.TrimSpace(strings.Repeat("1 ", len(out))))
		return false
	}
	for i, w := range words {
		v, err := strconv.ParseFloat(w.Text, 64)
		if err != nil || math.IsNaN(v) || v < least || v > most {
			f.Wrong(w.Place, "number", name, w.Text, least, most)
			return false
		}
		*out[i] = v
	}
	return true
}

// Unprintable finds a character that would not show, or would upset what is
// printed beside it.
func Unprintable(text string, spaces bool) (rune, bool) {
	i := strings.IndexFunc(text, func(r rune) bool { return !unicode.IsPrint(r) || r == ' ' && !spaces })
	if i < 0 {
		return 0, false
	}
	r, _ := utf8.DecodeRuneInString(text[i:])
	return r, true
}
