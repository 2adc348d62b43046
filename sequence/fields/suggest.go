package fields

import (
	"strconv"
	"strings"
	"unicode/utf8"
)

// Suggestion is an unknown name and the known ones: the end of a message about it.
type Suggestion struct {
	name  string
	known []string
}

// Suggest is what to write in place of a name that is not known.
func Suggest(name string, known []string) Suggestion { return Suggestion{name, known} }

// Nearest gives the known names, three at most, that are fewest slips away
// from name, each in quotes.
func (m Suggestion) Nearest() (best []string) {
	length := utf8.RuneCountInString(m.name)
	if length < 2 {
		return nil // a single character is one slip away from every other
	}
	least := max(1, (length+1)/3)
	for _, k := range m.known {
		switch d := distance(strings.ToLower(m.name), strings.ToLower(k)); {
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
