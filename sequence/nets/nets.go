// Package nets groups lines that are connected, by their numbers: who tests a unit, who
// diagnoses it and who reads a reference box keep them alike.
package nets

import "slices"

// Nets is a union-find over line numbers.
type Nets struct{ parent []int }

// New has every line by itself.
func New(lines int) *Nets {
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

// Root stands for the net of a line.
func (n *Nets) Root(line int) int {
	for n.parent[line] != line {
		n.parent[line] = n.parent[n.parent[line]]
		line = n.parent[line]
	}
	return line
}

// Join connects two lines.
func (n *Nets) Join(a, b int) { n.parent[n.Root(a)] = n.Root(b) }

// Same reports whether two lines are connected.
func (n *Nets) Same(a, b int) bool { return n.Root(a) == n.Root(b) }

// Pair stands for the nets of two lines, in whichever order they come.
func (n *Nets) Pair(a, b int) [2]int {
	a, b = n.Root(a), n.Root(b)
	return [2]int{min(a, b), max(a, b)}
}

// Span reports whether lines a and b lie in the same two nets, and not in one, as those of l.
func (n *Nets) Span(l [2]int, a, b int) bool {
	return !n.Same(l[0], l[1]) && n.Pair(l[0], l[1]) == n.Pair(a, b)
}

// Of lists the nets of the given lines, in the order of their first line.
func (n *Nets) Of(lines []int) [][]int {
	place := map[int]int{}
	var out [][]int
	for _, l := range lines {
		root := n.Root(l)
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
