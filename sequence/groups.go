package sequence

import "math/bits"

// split is one group reading: the lines fed against the lines grounded.
type split struct{ feed, ground []int }

// splits gives ceil(log2 n) splits of n nets so that every two nets are on
// different sides at least once: split k puts the nets on a side by bit k of
// their number. A keypad at rest has only single-line nets, and ceil(log2 n)
// is the least possible then (Kautz, IEEE Trans. Computers C-23, 1974).
func splits(nets [][]int) []split {
	var out []split
	for k := range bits.Len(uint(max(len(nets), 1) - 1)) {
		var s split
		for i, net := range nets {
			if i>>k&1 == 0 {
				s.ground = append(s.ground, net...)
			} else {
				s.feed = append(s.feed, net...)
			}
		}
		out = append(out, s)
	}
	return out
}

// reversed exchanges the sides, for parts that conduct one way only.
func (s split) reversed() split { return split{feed: s.ground, ground: s.feed} }

// nets groups lines that are connected; it is a union-find over line numbers.
type nets struct{ parent []int }

func newNets(lines int) *nets {
	n := &nets{parent: make([]int, lines)}
	for i := range n.parent {
		n.parent[i] = i
	}
	return n
}

func (n *nets) clone() *nets { return &nets{parent: append([]int(nil), n.parent...)} }

func (n *nets) root(line int) int {
	for n.parent[line] != line {
		n.parent[line] = n.parent[n.parent[line]]
		line = n.parent[line]
	}
	return line
}

func (n *nets) join(a, b int)      { n.parent[n.root(a)] = n.root(b) }
func (n *nets) same(a, b int) bool { return n.root(a) == n.root(b) }

// of lists the nets of the given lines, in the order of their first line.
func (n *nets) of(lines []int) [][]int {
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
