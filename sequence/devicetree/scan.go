package devicetree

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"padjig/sequence/product"
)

// place is a position in the source, line and column from 1.
type place struct{ line, column int }

// notes gathers what is wrong with a source, and what only looks odd.
type notes struct {
	file     string
	mistakes product.Mistakes
	remarks  product.Mistakes
	cut      bool // something had no end: what is wrong from there on only follows from it
}

func (n *notes) wrong(at place, format string, args ...any) {
	if !n.cut {
		n.mistakes = append(n.mistakes, n.message(at, format, args...))
	}
}

// endless reports what reaches to the end of the source because it was not closed.
func (n *notes) endless(at place, format string, args ...any) {
	n.wrong(at, format, args...)
	n.cut = true
}

func (n *notes) remark(at place, format string, args ...any) {
	n.remarks = append(n.remarks, n.message(at, format, args...))
}

func (n *notes) message(at place, format string, args ...any) product.Mistake {
	return product.Mistake{File: n.file, Line: at.line, Column: at.column, Message: fmt.Sprintf(format, args...)}
}

// cursor walks the text of a source.
type cursor struct {
	text []rune
	next int
	at   place
}

func (c *cursor) ended() bool { return c.next >= len(c.text) }

// rune gives the character ahead by so many, 0 beyond the end.
func (c *cursor) rune(ahead int) rune {
	if c.next+ahead >= len(c.text) {
		return 0
	}
	return c.text[c.next+ahead]
}

func (c *cursor) advance(n int) {
	for range n {
		if c.ended() {
			return
		}
		c.at.column++
		if c.text[c.next] == '\n' {
			c.at = place{c.at.line + 1, 1}
		}
		c.next++
	}
}

func (c *cursor) sees(text string) bool {
	for i, r := range []rune(text) {
		if c.rune(i) != r {
			return false
		}
	}
	return true
}

func (c *cursor) take(text string) bool {
	if !c.sees(text) {
		return false
	}
	c.advance(len([]rune(text)))
	return true
}

// run takes the longest run of characters that belong.
func (c *cursor) run(belongs func(rune) bool) string {
	from := c.next
	for !c.ended() && belongs(c.text[c.next]) {
		c.advance(1)
	}
	return string(c.text[from:c.next])
}

// through takes everything up to and with the closing text, or all that is left.
func (c *cursor) through(closing string) bool {
	for !c.ended() {
		if c.take(closing) {
			return true
		}
		c.advance(1)
	}
	return false
}

// scanner passes over what means nothing, and knows the macros. What a word means depends on
// where it stands, so there is no separate pass that would cut the text into tokens.
type scanner struct {
	cursor
	*notes
	macros *macros
}

func newScanner(file string, text []byte) *scanner {
	s := &scanner{cursor{at: place{1, 1}}, &notes{file: file}, &macros{body: map[string][]token{}}}
	if !utf8.Valid(text) {
		s.wrong(s.at, "not UTF-8 text; a devicetree source is text, a compiled blob is not: "+
			"turn it back with the devicetree compiler, or save the file as UTF-8")
		return s
	}
	s.text = []rune(strings.TrimPrefix(string(text), "\ufeff"))
	return s
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
