package devicetree

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"padjig/sequence/product"
)

// place is a position in the source, line and column from 1.
type place struct{ line, column int }

// scanner walks the text of a source. What a word means depends on where it
// stands, so there is no separate pass that would cut it into tokens.
type scanner struct {
	name     string
	text     []rune
	next     int
	at       place
	macros   map[string][]token
	spent    int  // tokens that macros have put in
	cut      bool // something had no end: what is wrong from there on only follows from it
	mistakes product.Mistakes
	remarks  product.Mistakes
}

func newScanner(name string, text []byte) *scanner {
	s := &scanner{name: name, at: place{1, 1}, macros: map[string][]token{}}
	if !utf8.Valid(text) {
		s.wrong(s.at, "not UTF-8 text; a devicetree source is text, a compiled blob is not: "+
			"turn it back with the devicetree compiler, or save the file as UTF-8")
		return s
	}
	s.text = []rune(strings.TrimPrefix(string(text), "\ufeff"))
	return s
}

func (s *scanner) wrong(at place, format string, args ...any) {
	if !s.cut {
		s.mistakes = append(s.mistakes, s.message(at, format, args...))
	}
}

// endless reports what reaches to the end of the source because it was not closed.
func (s *scanner) endless(at place, format string, args ...any) {
	s.wrong(at, format, args...)
	s.cut = true
}

func (s *scanner) remark(at place, format string, args ...any) {
	s.remarks = append(s.remarks, s.message(at, format, args...))
}

func (s *scanner) message(at place, format string, args ...any) product.Mistake {
	return product.Mistake{File: s.name, Line: at.line, Column: at.column, Message: fmt.Sprintf(format, args...)}
}

func ordered(m product.Mistakes) product.Mistakes {
	slices.SortFunc(m, func(a, b product.Mistake) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column),
			strings.Compare(a.Message, b.Message))
	})
	return slices.Compact(m)
}

func (s *scanner) ended() bool { return s.next >= len(s.text) }

// rune gives the character ahead by so many, 0 beyond the end.
func (s *scanner) rune(ahead int) rune {
	if s.next+ahead >= len(s.text) {
		return 0
	}
	return s.text[s.next+ahead]
}

func (s *scanner) advance(n int) {
	for range n {
		if s.ended() {
			return
		}
		s.at.column++
		if s.text[s.next] == '\n' {
			s.at = place{s.at.line + 1, 1}
		}
		s.next++
	}
}

func (s *scanner) sees(text string) bool {
	for i, r := range []rune(text) {
		if s.rune(i) != r {
			return false
		}
	}
	return true
}

func (s *scanner) take(text string) bool {
	if !s.sees(text) {
		return false
	}
	s.advance(len([]rune(text)))
	return true
}

// run takes the longest run of characters that belong.
func (s *scanner) run(belongs func(rune) bool) string {
	from := s.next
	for !s.ended() && belongs(s.text[s.next]) {
		s.advance(1)
	}
	return string(s.text[from:s.next])
}

// through takes everything up to and with the closing text, or all that is left.
func (s *scanner) through(closing string) bool {
	for !s.ended() {
		if s.take(closing) {
			return true
		}
		s.advance(1)
	}
	return false
}

// blank passes over white space, comments and preprocessor lines.
func (s *scanner) blank() {
	for s.space() || s.directive() {
	}
}

// space passes over one stretch of white space or one comment.
func (s *scanner) space() bool {
	at := s.at
	switch {
	case s.sees("/*"):
		s.advance(2)
		if !s.through("*/") {
			s.endless(at, "comment without an end; add */")
		}
	case s.sees("//"):
		s.run(func(r rune) bool { return r != '\n' })
	case unicode.IsSpace(s.rune(0)):
		s.run(unicode.IsSpace)
	default:
		return false
	}
	return true
}

// Names of nodes and properties may hold these signs besides letters and digits.
func inName(r rune) bool {
	return inWord(r) || strings.ContainsRune(",.+*#?@-", r)
}

// inWord tells the characters of labels and macros.
func inWord(r rune) bool {
	return r == '_' || r < utf8.RuneSelf && (unicode.IsLetter(r) || unicode.IsDigit(r))
}

func isDigit(r rune) bool { return '0' <= r && r <= '9' }

// quoted takes a string with its quotes and gives what stands between them,
// escapes as written.
func (s *scanner) quoted() string {
	at := s.at
	s.advance(1)
	from := s.next
	for !s.ended() && s.rune(0) != '"' {
		if s.rune(0) == '\\' {
			s.advance(1)
		}
		s.advance(1)
	}
	text := string(s.text[from:s.next])
	if !s.take(`"`) {
		s.endless(at, `string without an end; add the closing "`)
	}
	return text
}
