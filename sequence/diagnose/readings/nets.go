package readings

// Lines are two lines of a product, in whichever order they were read.
type Lines [2]int

// Are reports whether they are a and b.
func (l Lines) Are(a, b int) bool { return l == Lines{a, b} || l == Lines{b, a} }

// Ordered has the lower line first.
func (l Lines) Ordered() Lines { return Lines{min(l[0], l[1]), max(l[0], l[1])} }

// Nets groups lines that are connected: union-find over lines.
type Nets struct{ parent []int }

// NewNets has each line by itself.
func NewNets(lines int) *Nets {
	n := &Nets{parent: make([]int, lines)}
	for i := range n.parent {
		n.parent[i] = i
	}
	return n
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

// Of are the nets of two lines.
func (n *Nets) Of(a, b int) Lines { return Lines{n.Root(a), n.Root(b)}.Ordered() }

// Span reports whether lines a and b lie in the same two nets, and not in one, as those of l.
func (n *Nets) Span(l Lines, a, b int) bool {
	return !n.Same(l[0], l[1]) && n.Of(l[0], l[1]) == n.Of(a, b)
}

// Nets are those that the rest matrix shows.
func (u *Unit) Nets() *Nets { return u.netsOf(func(*Pair) bool { return true }) }

// FirstNets are those that it showed before keys were pressed.
func (u *Unit) FirstNets() *Nets { return u.netsOf(func(p *Pair) bool { return !p.Again }) }

func (u *Unit) netsOf(counts func(*Pair) bool) *Nets {
	n := NewNets(len(u.Product.Lines))
	for i := range u.Rest {
		if p := &u.Rest[i]; counts(p) && !p.Ohm.AtLeast && p.Ohm.Value < u.Closure {
			n.Join(p.Lines[0], p.Lines[1])
		}
	}
	return n
}
