// Package exchange finds which lines have changed places, from where keys closed that
// were pressed: plain numbers of lines, nothing else. Who tests a unit and who
// diagnoses it search with it alike.
package exchange

import "slices"

// Map says in whose place each line was found; a line that is not in it is in its own.
type Map map[int]int

// Of is the line in whose place a line was found.
func (m Map) Of(line int) int {
	if to, moved := m[line]; moved {
		return to
	}
	return line
}

// Pair is where two lines were found, the smaller number first.
func (m Map) Pair(lines [2]int) [2]int { return Ordered(m.Of(lines[0]), m.Of(lines[1])) }

// Lines are those that have moved, in order.
func (m Map) Lines() []int {
	var lines []int
	for l := range m {
		lines = append(lines, l)
	}
	slices.Sort(lines)
	return lines
}

// Ordered is a pair of lines, the smaller number first.
func Ordered(a, b int) [2]int { return [2]int{min(a, b), max(a, b)} }

// Press is what came of pressing a key.
type Press struct {
	Lines   [2]int   // its own
	Hidden  bool     // its lines are connected anyway: it says nothing by itself
	Strayed bool     // it seemed open, and other lines touched meanwhile
	Located bool     // it was looked for which: At are all of them
	At      [][2]int // lines that closed instead, or besides
}

// Mirror is a tail that was put in the wrong way round: the line of each pin, -1 for
// a pin that has none.
func Mirror(tail []int) Map {
	m := Map{}
	for i, line := range tail {
		if opposite := tail[len(tail)-1-i]; line >= 0 && opposite >= 0 && line != opposite {
			m[line] = opposite
		}
	}
	return m
}

// Swaps are all exchanges of two lines both of which are involved in what was seen;
// with unknown, where nobody looked which lines touched, one of them is enough. Each
// comes once, the larger number first.
func Swaps(lines int, involved map[int]bool, unknown bool) [][2]int {
	var out [][2]int
	for a := range lines {
		for b := range a {
			if involved[a] && involved[b] || unknown && (involved[a] || involved[b]) {
				out = append(out, [2]int{a, b})
			}
		}
	}
	return out
}

// Find gives the exchange that explains every key that was pressed: which seemed open,
// and where those that were located closed instead. A tail the wrong way round comes
// first, then any two lines. It is nil when there is none, or nothing was located.
func Find(lines int, tail []int, presses []Press) Map {
	involved := map[int]bool{}
	for _, p := range presses {
		for _, at := range p.At {
			involved[p.Lines[0]], involved[p.Lines[1]] = true, true
			involved[at[0]], involved[at[1]] = true, true
		}
	}
	if len(involved) == 0 {
		return nil
	}
	if m := Mirror(tail); m.Explains(presses) {
		return m
	}
	for _, s := range Swaps(lines, involved, false) {
		if m := (Map{s[0]: s[1], s[1]: s[0]}); m.Explains(presses) {
			return m
		}
	}
	return nil
}

// Explains reports whether with m every key closed exactly where it was seen to, and
// every key that m moves seemed open and made other lines touch.
func (m Map) Explains(presses []Press) bool {
	return !slices.ContainsFunc(presses, func(p Press) bool {
		own, expected := Ordered(p.Lines[0], p.Lines[1]), m.Pair(p.Lines)
		switch {
		case p.Hidden:
			return false
		case expected == own:
			return len(p.At) > 0
		}
		return !p.Strayed || p.Located && (len(p.At) != 1 || Ordered(p.At[0][0], p.At[0][1]) != expected)
	})
}
