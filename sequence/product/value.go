package product

import (
	"math"
	"strconv"
	"strings"
	"unicode"
)

// value is a number with a unit behind it: ohm, volt, ampere or a time.
type value interface{ ~float64 | ~int64 }

// bounds reads a field that says "at most X", "at least X" or "X to Y". An end
// that is not stated keeps what it had.
func bounds[Q value](s *source, o object, name string, parse func(string) (Q, error), lo, hi *Q) (place, bool) {
	f, found := o.get(name)
	if !found {
		return place{}, false
	}
	words := s.words(f)
	if len(words) == 0 {
		return place{}, false
	}
	text := func(from, to int) (Q, bool) { return quantityAt(s, name, words[from:to], parse) }
	var okLo, okHi = true, true
	switch to := indexOf(words, "to"); {
	case leads(words, "at", "most") && hi != nil:
		*hi, okHi = text(2, len(words))
	case leads(words, "at", "least") && lo != nil:
		*lo, okLo = text(2, len(words))
	case to > 0 && lo != nil && hi != nil:
		*lo, okLo = text(0, to)
		*hi, okHi = text(to+1, len(words))
		if okLo && okHi && *lo >= *hi {
			s.wrong(f.at(), "%s runs backwards; write the smaller value first", name)
			okHi = false
		}
	default:
		s.wrong(f.at(), "%s cannot be %q; write %s", name, joined(words), shapes(lo != nil, hi != nil))
		return place{}, false
	}
	return f.at(), okLo && okHi
}

func shapes(lo, hi bool) string {
	switch {
	case lo && hi:
		return `"at most" and a value, or two values with "to" between them`
	case lo:
		return `"at least" and a value`
	}
	return `"at most" and a value`
}

// exact reads a field that holds one value, such as "47 kohm".
func exact[Q value](s *source, o object, name string, parse func(string) (Q, error), q *Q) (place, bool) {
	f, found := o.get(name)
	if !found {
		return place{}, false
	}
	words := s.words(f)
	if len(words) == 0 {
		return place{}, false
	}
	v, ok := quantityAt(s, name, words, parse)
	if ok {
		*q = v
	}
	return words[0].place, ok
}

func quantityAt[Q value](s *source, name string, words []word, parse func(string) (Q, error)) (Q, bool) {
	if len(words) == 0 {
		return 0, false
	}
	v, err := parse(joined(words))
	switch {
	case err != nil:
		s.wrong(words[0].place, "%s: %v", name, err)
		return 0, false
	case v < 0:
		s.wrong(words[0].place, "%s cannot be negative; write a positive value", name)
		return 0, false
	}
	return v, true
}

func leads(words []word, first, second string) bool {
	return len(words) > 2 && words[0].text == first && words[1].text == second
}

func indexOf(words []word, text string) int {
	for i, w := range words {
		if w.text == text && i+1 < len(words) {
			return i
		}
	}
	return -1
}

func joined(words []word) string {
	all := make([]string, len(words))
	for i, w := range words {
		all[i] = w.text
	}
	return strings.Join(all, " ")
}

// whole reads a whole number between least and most.
func (s *source) whole(o object, name string, least, most int, n *int) (place, bool) {
	w, ok := s.line(o, name)
	if !ok {
		return place{}, false
	}
	v, err := strconv.Atoi(w.text)
	if err != nil || v < least || v > most {
		s.wrong(w.place, "%s cannot be %q; write a whole number from %d to %d", name, w.text, least, most)
		return w.place, false
	}
	*n = v
	return w.place, true
}

// numbers reads as many numbers without unit as out has room for.
func (s *source) numbers(o object, name string, least, most float64, out ...*float64) (place, bool) {
	f, found := o.get(name)
	if !found {
		return place{}, false
	}
	words := s.words(f)
	if len(words) != len(out) {
		s.wrong(f.at(), "%s needs %d number(s) without unit; write them like %q", name, len(out),
			strings.TrimSpace(strings.Repeat("1 ", len(out))))
		return f.at(), false
	}
	for i, w := range words {
		v, err := strconv.ParseFloat(w.text, 64)
		if err != nil || math.IsNaN(v) || v < least || v > most {
			s.wrong(w.place, "%s cannot be %q; write a number from %v to %v, without unit", name, w.text,
				least, most)
			return w.place, false
		}
		*out[i] = v
	}
	return words[0].place, true
}

// unprintable finds a character that would not show, or would upset what is
// printed beside it.
func unprintable(text string, spaces bool) (rune, bool) {
	for _, r := range text {
		if !unicode.IsPrint(r) || r == ' ' && !spaces {
			return r, true
		}
	}
	return 0, false
}

// cutUnit takes the unit off the end of text.
func cutUnit(text, unit string) (string, bool) {
	number, ok := strings.CutSuffix(text, unit)
	return strings.TrimSpace(number), ok
}
