package fields

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Mistake is one thing wrong with a file.
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

// Mistakes is everything wrong with a file, in its order.
type Mistakes []Mistake

// Error gives all mistakes, one to a line.
func (m Mistakes) Error() string { return strings.Join(Names(m, Mistake.Error), "\n") }

// Sorted puts the mistakes in the order of their file, each once.
func (m Mistakes) Sorted() Mistakes {
	inFile := func(a, b Mistake) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column), strings.Compare(a.Message, b.Message))
	}
	slices.SortFunc(m, inFile)
	return slices.CompactFunc(m, func(a, b Mistake) bool { return inFile(a, b) == 0 })
}

// Place is a position in the file, line and column from 1.
type Place struct{ Line, Column int }

// Known is false of no place.
func (p Place) Known() bool { return p.Line > 0 }

// After reports whether p stands behind q.
func (p Place) After(q Place) bool {
	return p.Line > q.Line || p.Line == q.Line && p.Column > q.Column
}

// Collector gathers the mistakes of one file.
type Collector struct {
	file  string
	Found Mistakes

	begun     int // mistakes found when what matters began
	sentences []map[Code]string
}

// Wrong adds a mistake.
func (c *Collector) Wrong(at Place, what Code, args ...any) {
	c.Found = append(c.Found, Mistake{c.file, at.Line, at.Column, c.Say(what, args...), what, args})
}

// Begin says that what comes now is what Sound is about.
func (c *Collector) Begin() { c.begun = len(c.Found) }

// Sound reports whether all that later checks build upon was read
// without a mistake; otherwise they would only find the consequences.
func (c *Collector) Sound() bool { return len(c.Found) == c.begun }
