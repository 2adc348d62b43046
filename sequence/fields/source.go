package fields

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	yaml "go.yaml.in/yaml/v4"
)

// Format is what a kind of file has of its own.
type Format struct {
	Sentences map[Code]string // its mistakes in words, and the common ones that speak of the kind
	Renamed   []Renaming
}

// Source is a file's text, and what was found wrong with it so far.
type Source struct {
	*Collector
	Kept bool // the text was kept when it was in order: names of before mean what they meant

	Sets []Set // that were read

	text    []byte
	lines   [][]rune
	renamed []Renaming
}

// Set is a set of fields that was read: where it begins, and the names that were known in it, none
// where any would do.
type Set struct {
	At    Place
	Known []string
}

// Word is a piece of text and where it stands.
type Word struct {
	Text string
	Place
}

// New is a source of that text; name stands for the file in mistakes.
func New(name string, text []byte, format Format, kept bool) *Source {
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	c := &Collector{file: name, sentences: []map[Code]string{format.Sentences, sentences}}
	s := &Source{Collector: c, Kept: kept, text: text, renamed: format.Renamed}
	for line := range strings.Lines(string(text)) {
		s.lines = append(s.lines, []rune(strings.TrimRight(line, "\r\n")))
	}
	return s
}

// Root parses the text as YAML and gives all of it as one field, which has no name. It is not
// ok when there is nothing that could be read further.
func (s *Source) Root() (root Field, ok bool) {
	if s.odd() {
		return root, false
	}
	var doc yaml.Node
	if err := yaml.Load(s.text, &doc); err != nil {
		s.syntax(err)
		return root, false
	}
	if doc.Kind != yaml.DocumentNode || len(doc.Content) == 0 {
		s.Wrong(Place{1, 1}, "file.empty")
		return root, false
	}
	return Field{Source: s, Value: doc.Content[0]}, s.plain(doc.Content[0])
}

// odd reports the characters that a text file does not hold. The YAML parser
// would refuse most of them too, but without saying where.
func (s *Source) odd() bool {
	if bytes.IndexByte(s.text, 0) >= 0 { // else each byte of a picture would be a mistake of its own
		s.Wrong(Place{1, 1}, "file.binary")
		return true
	}
	found := len(s.Found)
	line, column := 1, 1
	for rest := s.text; len(rest) > 0; {
		r, size := utf8.DecodeRune(rest)
		rest = rest[size:]
		at := Place{line, column}
		column++
		switch {
		case r == utf8.RuneError && size == 1:
			s.Wrong(at, "file.encoding")
			return true
		case r == '\n':
			line, column = line+1, 1
		case r == '\r' && !bytes.HasPrefix(rest, []byte("\n")),
			r == '\u0085', r == '\u2028', r == '\u2029':
			s.Wrong(at, "file.break", r)
		case r != '\t' && r != '\r' && unicode.IsControl(r), r == '\ufeff':
			s.Wrong(at, "file.control", r)
		}
	}
	return len(s.Found) > found
}

// syntax reports why the text is no YAML. The library tells its reasons apart by their words
// alone.
func (s *Source) syntax(err error) {
	e, known := errors.AsType[*yaml.LoadError](err)
	switch {
	case strings.Contains(err.Error(), "expected single document"):
		s.Wrong(s.secondDocument(), "file.second")
	case strings.Contains(err.Error(), "no documents"):
		s.Wrong(Place{1, 1}, "file.empty")
	case !known:
		s.Wrong(Place{1, 1}, "yaml.other", err)
	case e.ContextMsg != "" && e.ContextMark.Line > 0:
		s.Wrong(markOf(e), "yaml.begun", e.Message, e.ContextMsg, e.ContextMark.Line, e.ContextMark.Column,
			s.Say(remedy(e.Message)))
	default:
		s.Wrong(markOf(e), "yaml", e.Message, s.Say(remedy(e.Message)))
	}
}

func markOf(e *yaml.LoadError) Place { return Place{max(e.Mark.Line, 1), max(e.Mark.Column, 1)} }

func (s *Source) secondDocument() Place {
	for i, line := range slices.Backward(s.lines) {
		if strings.HasPrefix(string(line), "---") {
			return Place{i + 1, 1}
		}
	}
	return Place{1, 1}
}

// plain holds the file to the part of YAML in which what is written is what is
// meant: no anchors, aliases, merges or type tags.
func (s *Source) plain(n *yaml.Node) bool {
	switch {
	case n.Kind == yaml.AliasNode, n.Anchor != "":
		s.Wrong(placeOf(n), "yaml.anchor")
		return false
	case n.Style&yaml.TaggedStyle != 0:
		s.Wrong(placeOf(n), "yaml.tag")
		return false
	}
	ok := true
	for _, c := range n.Content {
		ok = s.plain(c) && ok
	}
	return ok
}

func placeOf(n *yaml.Node) Place { return Place{n.Line, n.Column} }

// split cuts a scalar at white space; each word knows where it stands.
func (s *Source) split(n *yaml.Node, what string) (all []Word) {
	if _, ok := s.scalar(n, what); !ok {
		return nil
	}
	c := s.start(n)
	for _, text := range strings.Fields(n.Value) {
		all = append(all, Word{text, c.next(text)})
	}
	return all
}

// scalar is the raw text of a scalar: "1.0" and "No" stay what they are.
func (s *Source) scalar(n *yaml.Node, what string) (Word, bool) {
	switch text := strings.TrimSpace(n.Value); {
	case n.Kind != yaml.ScalarNode:
		s.Wrong(placeOf(n), "text.not", what)
	case text == "":
		s.Wrong(placeOf(n), "text.empty", what)
	default:
		return Word{text, placeOf(n)}, true
	}
	return Word{}, false
}

// cursor walks the source to find where the words of a scalar stand: YAML
// itself only says where the scalar begins.
type cursor struct {
	lines [][]rune
	start Place
	at    Place
}

func (s *Source) start(n *yaml.Node) cursor {
	c := cursor{s.lines, placeOf(n), placeOf(n)}
	if n.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0 {
		c.at = Place{n.Line + 1, 1}
	} else if n.Style&(yaml.SingleQuotedStyle|yaml.DoubleQuotedStyle) != 0 {
		c.at.Column++
	}
	return c
}

// next moves past text. Where an escape hides the word, the start of the
// scalar stands for it.
func (c *cursor) next(text string) Place {
	for c.at.Line <= len(c.lines) {
		line := c.lines[c.at.Line-1]
		from := c.at.Column - 1
		for from < len(line) && unicode.IsSpace(line[from]) {
			from++
		}
		if from >= len(line) {
			c.at = Place{c.at.Line + 1, 1}
			continue
		}
		Word := []rune(text)
		if len(line)-from < len(Word) || !slices.Equal(line[from:from+len(Word)], Word) {
			return c.start
		}
		c.at = Place{c.at.Line, from + 1 + len(Word)}
		return Place{c.at.Line, from + 1}
	}
	return c.start
}
