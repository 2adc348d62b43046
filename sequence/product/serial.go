package product

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"padjig/sequence/checkdigit"
	"padjig/sequence/fields"
	"padjig/sequence/script"
)

// Serial says how units are numbered. The zero value accepts any number of
// printable characters without spaces.
type Serial struct {
	// Format shows a serial number place by place: # a digit, @ a capital
	// letter, ? either, * a check character, anything else itself.
	Format string
	// CheckSystem is "mod 11,10", "mod 37,36", "mod 97-10", "luhn" or "" for
	// no check character. It covers the letters and digits of the number, as
	// far as the system knows them, in their order; dashes and the like do not count.
	CheckSystem string
}

// longestSerial is what still fits a label and a line on the page.
const longestSerial = 64

// places maps the signs of a format to what may stand there.
var places = map[byte]struct{ set, name string }{
	'#': {checkdigit.Digits, "a digit"},
	'@': {checkdigit.Alphanumeric[len(checkdigit.Digits):], "a capital letter"},
	'?': {checkdigit.Alphanumeric, "a digit or capital letter"},
	'*': {checkdigit.Alphanumeric, "the check character"},
}

// ErrSerial is wrapped by every error of [Serial.Check].
var ErrSerial = errors.New("serial number refused")

// Check reports why sn is not a serial number of this product, and what to do.
func (s Serial) Check(sn string) error {
	if s.Format == "" {
		return anySerial(sn)
	}
	if why := script.Wrong(sn, len(s.Format), longestSerial); why != "" {
		return s.refuse(sn, why)
	}
	for i := range len(sn) {
		want, special := places[s.Format[i]]
		if !special {
			want.set, want.name = s.Format[i:i+1], strconv.Quote(s.Format[i:i+1])
		}
		if strings.IndexByte(want.set, sn[i]) < 0 {
			return s.refuse(sn, fmt.Sprintf("character %d is %q where %s belongs", i+1, sn[i:i+1], want.name))
		}
	}
	return s.checkCharacters(sn)
}

func (s Serial) checkCharacters(sn string) error {
	system, at, ok := s.check()
	if !ok || sn[at:at+system.Length] == system.Of(sn[:at]) {
		return nil
	}
	return &MisreadError{fmt.Errorf("%w: %q has check %q where %s gives %q: one character was misread or mistyped; "+
		"scan the label again",
		ErrSerial, sn, sn[at:at+system.Length], system.Name, system.Of(sn[:at]))}
}

// MisreadError is of a number that is like those of a product but for its check
// characters: the product is right, and the number was misread.
type MisreadError struct{ error }

func (e *MisreadError) Unwrap() error { return e.error }

func (s Serial) refuse(sn, why string) error {
	sn = script.Short(sn, longestSerial)
	return fmt.Errorf("%w: %q is not of this product: %s; expected one like %s; check that the right "+
		"product is chosen, then scan the label again", ErrSerial, sn, why, s.Example())
}

func anySerial(sn string) error {
	_, odd := fields.Unprintable(sn, false)
	if sn == "" || utf8.RuneCountInString(sn) > longestSerial || odd {
		return fmt.Errorf("%w: %q: expected 1 to %d printable characters without spaces; scan the label again",
			ErrSerial, script.Short(sn, longestSerial), longestSerial)
	}
	return nil
}

// Accepts reports whether every serial number of another format would do by this
// one, check characters apart.
func (s Serial) Accepts(other Serial) bool {
	if s.Format == "" || len(s.Format) != len(other.Format) {
		return s.Format == ""
	}
	for i := range len(s.Format) {
		mine, special := places[s.Format[i]]
		theirs, open := places[other.Format[i]]
		switch {
		case s.Format[i] == other.Format[i]:
		case !special, open && strings.Trim(theirs.set, mine.set) != "", !open && strings.IndexByte(mine.set, other.Format[i]) < 0:
			return false
		}
	}
	return true
}

// Earlier reports whether serial number a comes before b. That is known only of
// numbers that differ in digits alone; of a format with letters, or of none, nobody
// can say in which order units are made.
func (s Serial) Earlier(a, b string) (earlier, known bool) {
	if s.Check(a) != nil || s.Check(b) != nil || !strings.Contains(s.Format, "#") || strings.ContainsAny(s.Format, "@?") {
		return false, false
	}
	end := len(s.Format)
	if _, at, ok := s.check(); ok {
		end = at
	}
	return a[:end] < b[:end], true
}

// check gives the check system and where its characters begin.
func (s Serial) check() (system checkdigit.System, at int, ok bool) {
	system, ok = checkdigit.Named(s.CheckSystem)
	return system, strings.IndexByte(s.Format, '*'), ok
}

// Example gives a well-formed serial number.
func (s Serial) Example() string { return s.Complete(1) }

// Complete gives the n-th well-formed serial number, counting from 0 in the
// last place first; beyond the last number it begins again.
func (s Serial) Complete(n int) string {
	n = max(n, 0)
	if s.Format == "" {
		return fmt.Sprintf("%06d", n)
	}
	sn := []byte(s.Format)
	for i := len(sn) - 1; i >= 0; i-- {
		if set := places[sn[i]].set; set != "" && sn[i] != '*' {
			sn[i] = set[n%len(set)]
			n /= len(set)
		}
	}
	if system, at, ok := s.check(); ok {
		copy(sn[at:], system.Of(string(sn[:at])))
	}
	return string(sn)
}

func readSerial(o fields.Object) (s Serial) {
	l, ok := o.Section("serial", "format", "check")
	if !ok {
		return s
	}
	f, _ := o.Get("serial")
	l.At = f.Name.Place
	format, ok := l.Line("format")
	if !ok {
		l.Missing("format", "format: GCC-######-*")
		return s
	}
	if !checkFormat(l.Collector, format) {
		return s
	}
	s.Format = format.Text
	check, ok := l.Line("check")
	switch {
	case ok && !slices.Contains(checkdigit.Names(), check.Text):
		l.Wrong(check.Place, "check.unknown", check.Text, strings.Join(checkdigit.Names(), `", "`))
	case ok:
		s.CheckSystem = check.Text
		s.checkPlaces(l.Collector, format.Place)
	case strings.Contains(s.Format, "*"):
		l.Wrong(format.Place, "check.missing", s.Format)
	}
	return s
}

func checkFormat(c *fields.Collector, f fields.Word) bool {
	odd := func(r rune) bool { return r <= ' ' || r > '~' }
	switch {
	case strings.ContainsFunc(f.Text, odd):
		c.Wrong(f.Place, "format.character", f.Text)
	case len(f.Text) > longestSerial:
		c.Wrong(f.Place, "format.long", f.Text, longestSerial)
	case !strings.ContainsAny(f.Text, "#@?"):
		c.Wrong(f.Place, "format.same", f.Text)
	default:
		return true
	}
	return false
}

// checkPlaces holds the format to the check system: the right number of
// places, at the end, where the system's promises hold, and no letter that a
// system of digits could not cover.
func (s Serial) checkPlaces(c *fields.Collector, at fields.Place) {
	system, first, _ := s.check()
	stars := strings.Count(s.Format, "*")
	switch {
	case stars != system.Length:
		c.Wrong(at, "check.places", s.Format, stars, system.Name, system.Length, strings.Repeat("*", system.Length))
	case strings.Trim(s.Format[first:], "*") != "":
		c.Wrong(at, "check.end", s.Format, strings.Repeat("*", stars))
	case system.Alphabet == checkdigit.Digits && strings.ContainsAny(s.Format, "@?"):
		c.Wrong(at, "check.letters", s.Format, system.Name)
	}
}
