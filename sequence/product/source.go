package product

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	yaml "go.yaml.in/yaml/v4"
)

// source is a product file's text, and what was found wrong with it so far.
type source struct {
	*collector
	lines [][]rune
	kept  bool // the text was kept: names of before mean what they meant
}

// word is a piece of text and where it stands.
type word struct {
	text string
	place
}

func newSource(name string, text []byte, kept bool) *source {
	s := &source{collector: &collector{file: name}, kept: kept}
	for line := range strings.Lines(string(text)) {
		s.lines = append(s.lines, []rune(strings.TrimRight(line, "\r\n")))
	}
	return s
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
		s.wrong(place{1, 1}, "file.empty")
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
	found := len(s.found)
	line, column := 1, 1
	for rest := text; len(rest) > 0; {
		r, size := utf8.DecodeRune(rest)
		rest = rest[size:]
		at := place{line, column}
		column++
		switch {
		case r == utf8.RuneError && size == 1:
			s.wrong(at, "file.encoding")
			return true
		case r == '\n':
			line, column = line+1, 1
		case r == '\r' && !bytes.HasPrefix(rest, []byte("\n")),
			r == '\u0085', r == '\u2028', r == '\u2029':
			s.wrong(at, "file.break", r)
		case r != '\t' && r != '\r' && unicode.IsControl(r), r == '\ufeff':
			s.wrong(at, "file.control", r)
		}
	}
	return len(s.found) > found
}

// syntax reports why the text is no YAML. The library tells its reasons apart by their words
// alone.
func (s *source) syntax(err error) {
	e, known := errors.AsType[*yaml.LoadError](err)
	switch {
	case strings.Contains(err.Error(), "expected single document"):
		s.wrong(s.secondDocument(), "file.second")
	case strings.Contains(err.Error(), "no documents"):
		s.wrong(place{1, 1}, "file.empty")
	case !known:
		s.wrong(place{1, 1}, "yaml.other", err)
	case e.ContextMsg != "" && e.ContextMark.Line > 0:
		s.wrong(markOf(e), "yaml.begun", e.Message, e.ContextMsg, e.ContextMark.Line, e.ContextMark.Column,
			remedy(e.Message))
	default:
		s.wrong(markOf(e), "yaml", e.Message, remedy(e.Message))
	}
}

func markOf(e *yaml.LoadError) place { return place{max(e.Mark.Line, 1), max(e.Mark.Column, 1)} }

func (s *source) secondDocument() place {
	for i, line := range slices.Backward(s.lines) {
		if strings.HasPrefix(string(line), "---") {
			return place{i + 1, 1}
		}
	}
	return place{1, 1}
}

// plain holds the file to the part of YAML in which what is written is what is
// meant: no anchors, aliases, merges or type tags.
func (s *source) plain(n *yaml.Node) bool {
	switch {
	case n.Kind == yaml.AliasNode, n.Anchor != "":
		s.wrong(placeOf(n), "yaml.anchor")
		return false
	case n.Style&yaml.TaggedStyle != 0:
		s.wrong(placeOf(n), "yaml.tag")
		return false
	}
	ok := true
	for _, c := range n.Content {
		ok = s.plain(c) && ok
	}
	return ok
}

func placeOf(n *yaml.Node) place { return place{n.Line, n.Column} }

// split cuts a scalar at white space; each word knows where it stands.
func (s *source) split(n *yaml.Node, what string) (all []word) {
	if _, ok := s.text(n, what); !ok {
		return nil
	}
	c := s.start(n)
	for _, text := range strings.Fields(n.Value) {
		all = append(all, word{text, c.next(text)})
	}
	return all
}

// text is the raw text of a scalar: "1.0" and "No" stay what they are.
func (s *source) text(n *yaml.Node, what string) (word, bool) {
	switch text := strings.TrimSpace(n.Value); {
	case n.Kind != yaml.ScalarNode:
		s.wrong(placeOf(n), "text.not", what)
	case text == "":
		s.wrong(placeOf(n), "text.empty", what)
	default:
		return word{text, placeOf(n)}, true
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
	c := cursor{s.lines, placeOf(n), placeOf(n)}
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
		c.at = place{c.at.line, from + 1 + len(word)}
		return place{c.at.line, from + 1}
	}
	return c.start
}
