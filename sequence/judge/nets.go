package judge

import (
	"math/bits"
	"slices"
)

// Split is one group reading: the lines fed against the lines grounded.
type Split struct{ Feed, Ground []int }

// Splits gives ceil(log2 n) splits of n nets so that every two nets are on
// different sides at least once: split k puts the nets on a side by bit k of
// their number. A keypad at rest has only single-line nets, and ceil(log2 n)
// is the least possible then (Kautz, IEEE Trans. Computers C-23, 1974).
func Splits(nets [][]int) []Split {
	var out []Split
	for k := range bits.Len(uint(max(len(nets), 1) - 1)) {
		var s Split
		for i, net := range nets {
			if i>>k&1 == 0 {
				s.Ground = append(s.Ground, net...)
			} else {
				s.Feed = append(s.Feed, net...)
			}
		}
		out = append(out, s)
	}
	return out
}

// Reversed exchanges the sides, for parts that conduct one way only.
func (s Split) Reversed() Split { return Split{Feed: s.Ground, Ground: s.Feed} }

// Nets groups lines that are connected; it is a union-find over line numbers.
type Nets struct{ parent []int }

// NewNets has every line by itself.
func NewNets(lines int) *Nets {
	n := &Nets{parent: make([]int, lines)}
	for i := range n.parent {
		n.parent[i] = i
	}
	return n
}

// With are the same nets with two lines joined besides.
func (n *Nets) With(a, b int) *Nets {
	own := &Nets{parent: slices.Clone(n.parent)}
	own.Join(a, b)
	return own
}

func (n *Nets) root(line int) int {
	for n.parent[line] != line {
		n.parent[line] = n.parent[n.parent[line]]
		line = n.parent[line]
	}
	return line
}

// Join connects two lines.
func (n *Nets) Join(a, b int) { n.parent[n.root(a)] = n.root(b) }

// Same reports whether two lines are connected.
func (n *Nets) Same(a, b int) bool { return n.root(a) == n.root(b) }

// Of lists the nets of the given lines, in the order of their first line.
func (n *Nets) Of(lines []int) [][]int {
	place := map[int]int{}
	var out [][]int
	for _, l := range lines {
		root := n.root(l)
		i, known := place[root]
		if !known {
			i = len(out)
			place[root] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], l)
	}
	return out
}
