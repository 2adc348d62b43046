package product

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Mistake is one thing wrong with a product file, or with what one is made of.
type Mistake struct {
	File         string
	Line, Column int    // from 1; columns count characters
	Message      string // what is wrong and what to write instead

	// What a message of this package says, see [Code]; none in one from elsewhere.
	Code Code
	Args []any
}

// Error gives "file:line:column: message".
func (m Mistake) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", m.File, m.Line, m.Column, m.Message)
}

// Mistakes is everything wrong with a product file, in the order of the file.
type Mistakes []Mistake

// Error gives all mistakes, one to a line.
func (m Mistakes) Error() string { return strings.Join(namesOf(m, Mistake.Error), "\n") }

// Sorted puts the mistakes in the order of their file, each once.
func (m Mistakes) Sorted() Mistakes {
	inFile := func(a, b Mistake) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column), strings.Compare(a.Message, b.Message))
	}
	slices.SortFunc(m, inFile)
	return slices.CompactFunc(m, func(a, b Mistake) bool { return inFile(a, b) == 0 })
}

// place is a position in the file, line and column from 1.
type place struct{ line, column int }

func (p place) known() bool { return p.line > 0 }

func (p place) after(q place) bool {
	return p.line > q.line || p.line == q.line && p.column > q.column
}

// collector gathers the mistakes of one file.
type collector struct {
	file  string
	found Mistakes
	begun int // mistakes found before the lines of the pad
}

func (c *collector) wrong(at place, what Code, args ...any) {
	c.found = append(c.found, Mistake{c.file, at.line, at.column, what.say(args...), what, args})
}

// sound reports whether all that the electrical checks build upon was read
// without a mistake; otherwise they would only find the consequences.
func (c *collector) sound() bool { return len(c.found) == c.begun }
