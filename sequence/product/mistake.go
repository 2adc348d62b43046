package product

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Mistake is one thing wrong with a product file.
type Mistake struct {
	File         string
	Line, Column int    // from 1; columns count characters
	Message      string // what is wrong and what to write instead
}

// Error gives "file:line:column: message".
func (m Mistake) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", m.File, m.Line, m.Column, m.Message)
}

// Mistakes is everything wrong with a product file, in the order of the file.
type Mistakes []Mistake

// Error gives all mistakes, one to a line.
func (m Mistakes) Error() string {
	var b strings.Builder
	for i, one := range m {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(one.Error())
	}
	return b.String()
}

func (m Mistakes) sorted() Mistakes {
	slices.SortFunc(m, func(a, b Mistake) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column),
			strings.Compare(a.Message, b.Message))
	})
	return slices.Compact(m)
}

// didYouMean ends a message about an unknown name: with the nearest known one,
// or, when none is near, with all of them if they are few.
func didYouMean(name string, known []string) string {
	if near := nearest(name, known); len(near) > 0 {
		return fmt.Sprintf("; did you mean %s?", strings.Join(near, " or "))
	}
	if len(known) == 0 || len(known) > 14 {
		return ""
	}
	return "; write one of: " + strings.Join(known, ", ")
}

// nearest gives the known names, three at most, that are fewest slips away
// from name, each in quotes.
func nearest(name string, known []string) []string {
	length := utf8.RuneCountInString(name)
	if length < 2 {
		return nil // a single character is one slip away from every other
	}
	var best []string
	least := max(1, (length+1)/3)
	for _, k := range known {
		switch d := distance(strings.ToLower(name), strings.ToLower(k)); {
		case d < least:
			best, least = []string{strconv.Quote(k)}, d
		case d == least && len(best) < 3:
			best = append(best, strconv.Quote(k))
		}
	}
	return best
}

// distance counts the characters to insert, delete, replace or swap with their
// neighbour to make b of a.
func distance(a, b string) int {
	s, t := []rune(a), []rune(b)
	before, last, row := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range row {
		row[j] = j
	}
	for i := range s {
		before, last, row = last, row, before
		row[0] = i + 1
		for j := range t {
			change := 1
			if s[i] == t[j] {
				change = 0
			}
			row[j+1] = min(last[j+1]+1, row[j]+1, last[j]+change)
			if i > 0 && j > 0 && s[i] == t[j-1] && s[i-1] == t[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
	}
	return row[len(t)]
}
