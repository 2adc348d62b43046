package product

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	yaml "go.yaml.in/yaml/v4"
)

// source is a product file's text and what was found wrong with it so far.
type source struct {
	name     string
	lines    [][]rune
	mistakes Mistakes
}

// place is a position in the file, line and column from 1.
type place struct{ line, column int }

func (p place) known() bool { return p.line > 0 }

func (p place) after(q place) bool {
	return p.line > q.line || p.line == q.line && p.column > q.column
}

// word is a piece of text and where it stands.
type word struct {
	text string
	place
}

func newSource(name string, text []byte) *source {
	s := &source{name: name}
	for line := range strings.Lines(string(text)) {
		s.lines = append(s.lines, []rune(strings.TrimRight(line, "\r\n")))
	}
	return s
}

func (s *source) wrong(at place, format string, args ...any) {
	s.mistakes = append(s.mistakes, Mistake{s.name, at.line, at.column, fmt.Sprintf(format, args...)})
}

// document parses the text as YAML and gives its top node, nil when there is
// none that could be read further.
func (s *source) document(text []byte) *yaml.Node {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	if s.odd(text) {
		return nil
	}
	var doc yaml.Node
	if err := yaml.Load(text, &doc); err != nil {
		s.syntax(err)
		return nil
	}
	if doc.Kind != yaml.DocumentNode || len(doc.Content) == 0 {
		s.wrong(place{1, 1}, nothing)
		return nil
	}
	if !s.plain(doc.Content[0]) {
		return nil
	}
	return doc.Content[0]
}

// odd reports the characters that a text file does not hold. The YAML parser
// would refuse most of them too, but without saying where.
func (s *source) odd(text []byte) bool {
	found := len(s.mistakes)
	line, column := 1, 1
	for rest := text; len(rest) > 0; {
		r, size := utf8.DecodeRune(rest)
		rest = rest[size:]
		at := place{line, column}
		column++
		switch {
		case r == utf8.RuneError && size == 1:
			s.wrong(at, "not UTF-8 text; save the file as UTF-8")
			return true
		case r == '\n':
			line, column = line+1, 1
		case r == '\r' && !bytes.HasPrefix(rest, []byte("\n")),
			r == '\u0085', r == '\u2028', r == '\u2029':
			s.wrong(at, "line break %U; end lines with a plain line feed", r)
		case r != '\t' && r != '\r' && unicode.IsControl(r), r == '\ufeff':
			s.wrong(at, "control character %U; delete it", r)
		}
	}
	return len(s.mistakes) > found
}

const nothing = `nothing in this file; begin with "product: CODE"`

func (s *source) syntax(err error) {
	var e *yaml.LoadError
	switch known := errors.As(err, &e); {
	case strings.Contains(err.Error(), "expected single document"):
		s.wrong(s.secondDocument(), `a second document begins here; delete the "---" and keep one `+
			`product to a file`)
		return
	case strings.Contains(err.Error(), "no documents"):
		s.wrong(place{1, 1}, nothing)
		return
	case !known:
		s.wrong(place{1, 1}, "not YAML: %v", err)
		return
	}
	at := place{max(e.Mark.Line, 1), max(e.Mark.Column, 1)}
	began := ""
	if e.ContextMsg != "" && e.ContextMark.Line > 0 {
		began = fmt.Sprintf(" %s begun at line %d, column %d", e.ContextMsg, e.ContextMark.Line,
			e.ContextMark.Column)
	}
	s.wrong(at, "not YAML: %s%s; %s", e.Message, began, remedy(e.Message))
}

func (s *source) secondDocument() place {
	for i, line := range slices.Backward(s.lines) {
		if strings.HasPrefix(string(line), "---") {
			return place{i + 1, 1}
		}
	}
	return place{1, 1}
}

func remedy(message string) string {
	switch {
	case strings.Contains(message, "mapping values"):
		return `check the indentation, and put text that holds ": " in quotes`
	case strings.Contains(message, "cannot start any token"), strings.Contains(message, "alphabetic"):
		return `indent with spaces, and put names that begin with * & @ % or a quote in quotes: "*"`
	case strings.Contains(message, "block sequence entries"):
		return `put text that begins with "- " in quotes`
	case strings.Contains(message, "max depth"):
		return "take brackets and indentation out: a product file is a few levels deep"
	case strings.Contains(message, "end of stream"):
		return "close the quote"
	case strings.Contains(message, "',' or"):
		return "close the bracket"
	}
	return "check indentation, quotes and brackets just before"
}

// plain holds the file to the part of YAML in which what is written is what is
// meant: no anchors, aliases, merges or type tags.
func (s *source) plain(n *yaml.Node) bool {
	at := place{n.Line, n.Column}
	switch {
	case n.Kind == yaml.AliasNode, n.Anchor != "":
		s.wrong(at, "anchors (&) and aliases (*) are not used in product files; "+
			`write the value out, or put a name that begins with & or * in quotes`)
		return false
	case n.Style&yaml.TaggedStyle != 0:
		s.wrong(at, "type tags (!) are not used in product files; put a name that begins with ! in quotes")
		return false
	}
	ok := true
	for _, c := range n.Content {
		ok = s.plain(c) && ok
	}
	return ok
}

// words splits the text of a field at white space; each word knows where it
// stands. A list stands for its items with spaces between them.
func (s *source) words(f field) []word {
	if f.value.Kind != yaml.SequenceNode {
		return s.split(f.value, f.name.text)
	}
	var all []word
	for _, item := range f.value.Content {
		all = append(all, s.split(item, "an item of "+f.name.text)...)
	}
	return all
}

func (s *source) split(n *yaml.Node, what string) []word {
	if _, ok := s.text(n, what); !ok {
		return nil
	}
	c := s.start(n)
	var all []word
	for _, text := range strings.Fields(n.Value) {
		all = append(all, word{text, c.next(text)})
	}
	return all
}

// text is the raw text of a scalar: "1.0" and "No" stay what they are.
func (s *source) text(n *yaml.Node, what string) (word, bool) {
	at := place{n.Line, n.Column}
	switch {
	case n.Kind != yaml.ScalarNode:
		s.wrong(at, "%s must be plain text, not a list or a set of fields", what)
	case strings.TrimSpace(n.Value) == "":
		s.wrong(at, "%s is empty; write a value, in quotes if it begins with #, or take the field out", what)
	default:
		return word{strings.TrimSpace(n.Value), at}, true
	}
	return word{}, false
}

// cursor walks the source to find where the words of a scalar stand: YAML
// itself only says where the scalar begins.
type cursor struct {
	lines [][]rune
	start place
	at    place
}

func (s *source) start(n *yaml.Node) cursor {
	at := place{n.Line, n.Column}
	c := cursor{s.lines, at, at}
	if n.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0 {
		c.at = place{n.Line + 1, 1}
	} else if n.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0 {
		c.at.column++
	}
	return c
}

// next moves past text. Where an escape hides the word, the start of the
// scalar stands for it.
func (c *cursor) next(text string) place {
	for c.at.line <= len(c.lines) {
		line := c.lines[c.at.line-1]
		from := c.at.column - 1
		for from < len(line) && unicode.IsSpace(line[from]) {
			from++
		}
		if from >= len(line) {
			c.at = place{c.at.line + 1, 1}
			continue
		}
		word := []rune(text)
		if len(line)-from < len(word) || !slices.Equal(line[from:from+len(word)], word) {
			return c.start
		}
		found := place{c.at.line, from + 1}
		c.at = place{c.at.line, from + 1 + len(word)}
		return found
	}
	return c.start
}
