package product

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
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
	'#': {digits, "a digit"},
	'@': {alphanumeric[10:], "a capital letter"},
	'?': {alphanumeric, "a digit or capital letter"},
	'*': {alphanumeric, "the check character"},
}

// ErrSerial is wrapped by every error of [Serial.Check].
var ErrSerial = errors.New("serial number refused")

// Check reports why sn is not a serial number of this product, and what to do.
func (s Serial) Check(sn string) error {
	if s.Format == "" {
		return anySerial(sn)
	}
	if len(sn) != len(s.Format) {
		return s.refuse(sn, fmt.Sprintf("it has %d characters, not %d", len(sn), len(s.Format)))
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
	if !ok || sn[at:at+system.length] == system.of(sn[:at]) {
		return nil
	}
	return fmt.Errorf("%w: %q has check %q where %s gives %q: one character was misread or mistyped; "+
		"scan the label again",
		ErrSerial, sn, sn[at:at+system.length], system.name, system.of(sn[:at]))
}

func (s Serial) refuse(sn, why string) error {
	return fmt.Errorf("%w: %q is not of this product: %s; expected one like %s; check that the right "+
		"product is chosen, then scan the label again", ErrSerial, sn, why, s.Example())
}

func anySerial(sn string) error {
	_, odd := unprintable(sn, false)
	if sn == "" || len(sn) > longestSerial || odd {
		return fmt.Errorf("%w: %q: expected 1 to %d printable characters without spaces; scan the label again",
			ErrSerial, sn, longestSerial)
	}
	return nil
}

// check gives the check system and where its characters begin.
func (s Serial) check() (system checkSystem, at int, ok bool) {
	i := slices.IndexFunc(checkSystems, func(c checkSystem) bool { return c.name == s.CheckSystem })
	if i < 0 {
		return checkSystem{}, 0, false
	}
	return checkSystems[i], strings.IndexByte(s.Format, '*'), true
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
		copy(sn[at:], system.of(string(sn[:at])))
	}
	return string(sn)
}

func (b *builder) serial(o object) Serial {
	l, ok := b.section(o, "serial", "format", "check")
	if !ok {
		return Serial{}
	}
	f, _ := o.get("serial")
	l.at = f.name.place
	var s Serial
	format, ok := b.line(l, "format")
	if !ok {
		b.missing(l, "format", "format: GCC-######-*")
		return s
	}
	if why := badFormat(format.text); why != "" {
		b.wrong(format.place, "serial format %q %s", format.text, why)
		return s
	}
	s.Format = format.text
	check, ok := b.line(l, "check")
	switch {
	case ok && !contains(checkNames(), check.text):
		b.wrong(check.place, `check cannot be %q; write one of "%s", inside braces in quotes`, check.text,
			strings.Join(checkNames(), `", "`))
	case ok:
		s.CheckSystem = check.text
		b.checkPlaces(s, format.place)
	case strings.Contains(s.Format, "*"):
		b.wrong(format.place, `serial format %q has a check character (*) but no check; add "check: mod `+
			`37,36"`, s.Format)
	}
	return s
}

func badFormat(f string) string {
	odd := func(r rune) bool { return r <= ' ' || r > '~' }
	switch {
	case strings.ContainsFunc(f, odd):
		return "may hold only ASCII letters, digits and signs, no spaces; scanners read nothing else alike"
	case len(f) > longestSerial:
		return fmt.Sprintf("is too long; write %d characters at most", longestSerial)
	case !strings.ContainsAny(f, "#@?"):
		return "is the same for every unit; write # for a digit, @ for a letter, ? for either"
	}
	return ""
}

// checkPlaces holds the format to the check system: the right number of
// places, at the end, where the system's promises hold, and no letter that a
// system of digits could not cover.
func (b *builder) checkPlaces(s Serial, at place) {
	system, first, _ := s.check()
	stars := strings.Count(s.Format, "*")
	switch {
	case stars != system.length:
		b.wrong(at, "serial format %q has check characters (*): %d, but %s needs %d; write %q at its end",
			s.Format, stars, system.name, system.length, strings.Repeat("*", system.length))
	case strings.Trim(s.Format[first:], "*") != "":
		b.wrong(at, "serial format %q goes on after its check characters; put %q at its end",
			s.Format, strings.Repeat("*", stars))
	case system.alphabet == digits && strings.ContainsAny(s.Format, "@?"):
		b.wrong(at, `serial format %q has letters, which %s cannot check; write "check: mod 37,36"`,
			s.Format, system.name)
	}
}
