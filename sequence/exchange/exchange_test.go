package exchange

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// grid is a keypad of rows and columns, lines 0 to rows-1 and on, with what each press
// does when the lines have moved as m says.
func grid(rows, columns int, m Map, located int) (tail []int, presses []Press) {
	for l := range rows + columns {
		tail = append(tail, l)
	}
	for r := range rows {
		for c := range columns {
			p := Press{Lines: [2]int{r, rows + c}}
			if at := m.Pair(p.Lines); at != p.Lines {
				p.Strayed = true
				if located > 0 {
					p.Located, p.At = true, [][2]int{at}
					located--
				}
			}
			presses = append(presses, p)
		}
	}
	return tail, presses
}

func TestAnyTwoLinesThatChangedPlacesAreFound(t *testing.T) {
	for a := range 7 {
		for b := range a {
			m := Map{a: b, b: a}
			tail, presses := grid(4, 3, m, 3)
			found := Find(7, tail, presses)
			assert.Equal(t, m, found, "%d and %d", a, b)
			assert.Equal(t, []int{b, a}, found.Lines())
		}
	}
}

func TestATailTheWrongWayRoundComesFirst(t *testing.T) {
	tail, _ := grid(4, 3, nil, 0)
	m := Mirror(tail)
	_, presses := grid(4, 3, m, 3)
	assert.Equal(t, m, Find(7, tail, presses))
}

// What does not fit all of what was seen explains none of it.
func TestWhatAnExchangeDoesNotExplain(t *testing.T) {
	swap := Map{0: 1, 1: 0}
	for name, spoil := range map[string]func([]Press){
		"nothing was located":               func(p []Press) { clear(p) },
		"a key that should have moved":      func(p []Press) { p[1].Strayed, p[1].Located, p[1].At = false, false, nil },
		"a key that should not have":        func(p []Press) { p[8].Strayed, p[8].Located, p[8].At = true, true, [][2]int{{2, 3}} },
		"a key that closed somewhere else":  func(p []Press) { p[0].At = [][2]int{{2, 4}} },
		"a key that closed two pairs":       func(p []Press) { p[0].At = append(p[0].At, [2]int{2, 5}) },
		"looked for, and there was nothing": func(p []Press) { p[0].At = nil },
	} {
		tail, presses := grid(4, 3, swap, 6)
		assert.Equal(t, swap, Find(7, tail, presses))
		spoil(presses)
		assert.Nil(t, Find(7, tail, presses), name)
	}
	tail, presses := grid(4, 3, swap, 6)
	presses[1] = Press{Lines: presses[1].Lines, Hidden: true}
	assert.Equal(t, swap, Find(7, tail, presses), "a key that is hidden says nothing against it")
}

func TestSwapsOfWhatIsInvolved(t *testing.T) {
	involved := map[int]bool{1: true, 3: true}
	assert.Equal(t, [][2]int{{3, 1}}, Swaps(4, involved, false))
	assert.Equal(t, [][2]int{{1, 0}, {2, 1}, {3, 0}, {3, 1}, {3, 2}}, Swaps(4, involved, true))
}
