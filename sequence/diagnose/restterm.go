package diagnose

import (
	"math"

	"padjig/sequence/product"
)

// nets groups lines that are connected: union-find over lines.
type nets struct{ parent []int }

func newNets(lines int) *nets {
	n := &nets{parent: make([]int, lines)}
	for i := range n.parent {
		n.parent[i] = i
	}
	return n
}

func (n *nets) root(line int) int {
	for n.parent[line] != line {
		n.parent[line] = n.parent[n.parent[line]]
		line = n.parent[line]
	}
	return line
}

func (n *nets) join(a, b int)      { n.parent[n.root(a)] = n.root(b) }
func (n *nets) same(a, b int) bool { return n.root(a) == n.root(b) }

// restNets are the nets that the rest matrix shows.
func restNets(e *Evidence) *nets { return netsOf(e, func(Pair) bool { return true }) }

// firstNets are those that it showed before keys were pressed.
func firstNets(e *Evidence) *nets { return netsOf(e, func(p Pair) bool { return !p.Again }) }

func netsOf(e *Evidence, counts func(Pair) bool) *nets {
	n := newNets(len(e.Product.Lines))
	for _, p := range e.Rest {
		if counts(p) && !p.Ohm.AtLeast && p.Ohm.Value < e.Closure {
			n.join(p.Lines[0], p.Lines[1])
		}
	}
	return n
}

// restTerm is the likelihood of a connection found at rest. It is a surprise unless a
// fault of h joins its lines, or the nets they belong to: of the leaks between two nets
// only the least is listed, and which that is the noise decides.
func (m *model) restTerm(i int, h []fault) float64 {
	p := &m.ev.Rest[i]
	best := surprise
	for j := range h {
		best = max(best, m.joined(p, &h[j], h))
	}
	return best
}

// joined is the likelihood of a pair at rest given that fault f made it.
func (m *model) joined(p *Pair, f *fault, h []fault) float64 {
	switch f.effect {
	case slow:
		if p.Again && m.wouldJoin(f.key, p) {
			return -1 // still closed when the lines were read again at the end
		}
		return surprise
	case bridges:
		return m.bridged(p, f, h)
	case closed:
		return m.stuck(p, f)
	}
	return surprise
}

// wouldJoin reports whether key k joins the nets, as they were at first, of a pair's lines.
func (m *model) wouldJoin(k int, p *Pair) bool {
	key := &m.ev.Product.Keys[k]
	n := firstNets(m.ev)
	return ordered(n.root(key.A), n.root(key.B)) == ordered(n.root(p.Lines[0]), n.root(p.Lines[1]))
}

func (m *model) bridged(p *Pair, f *fault, h []fault) float64 {
	direct := ordered(f.line, f.mate) == ordered(p.Lines[0], p.Lines[1])
	if !direct && !m.between(p, f) {
		return surprise
	}
	l := -math.Log(bridgeRange)
	if !direct {
		l-- // it has a pair of its own that would as well be listed
	}
	if p.Again {
		l -= 3 // it was not there at first
	}
	switch {
	case p.oneWay() == 0:
	case m.ev.Closure <= p.Ohm.Value:
		l -= 2 // silver that grows may conduct better one way
	default:
		l -= 10
	}
	if !p.Ohm.AtLeast && float64(p.Ohm.Value)+3*float64(p.Ohm.U) < m.tails(f) {
		l += surprise / 2 // less than the tails alone have
	}
	return l
}

// between reports whether a bridge joins the nets that the lines of p belong to.
func (m *model) between(p *Pair, f *fault) bool {
	a, b := m.nets.root(p.Lines[0]), m.nets.root(p.Lines[1])
	x, y := m.nets.root(f.line), m.nets.root(f.mate)
	return a != b && ordered(a, b) == ordered(x, y)
}

func (m *model) tails(f *fault) float64 {
	return 0.5 * (m.pad.depth[f.line][0] + m.pad.depth[f.mate][0])
}

// stuck is a key that is closed at rest: with a resistance like that of a contact, and
// one way only where it has a diode.
func (m *model) stuck(p *Pair, f *fault) float64 {
	key := &m.ev.Product.Keys[f.key]
	if ordered(key.A, key.B) != ordered(p.Lines[0], p.Lines[1]) || p.Ohm.AtLeast {
		return surprise
	}
	l := 0.0
	if p.Again {
		l -= 1 // it did not open any more
	}
	if key.Diode != product.NoDiode {
		switch p.oneWay() {
		case m.diodeWay(key):
			return l - math.Log(bridgeRange)/2 // the diode's drop makes its ohms anything
		case 0:
			if p.Forward == nil {
				return l + surprise/4
			}
		}
		return surprise / 2
	}
	if p.oneWay() != 0 {
		l -= 10
	}
	r := float64(p.Ohm.Value) - m.mean[f.key].path
	if r <= 0 {
		return l + surprise/2
	}
	// A contact held closed is like the others, but not as hard pressed.
	const like = 0.6
	z := (math.Log(r) - math.Log(m.mean[f.key].contact)) / like
	return l + student(z) - math.Log(like)
}

// diodeWay is the sign of oneWay for a key's diode: 1 where the lower line is its anode.
func (m *model) diodeWay(key *product.Key) int {
	if (key.Diode == product.AtoB) == (key.A < key.B) {
		return 1
	}
	return -1
}

// oneWay tells which way a connection conducts: 0 both, 1 from the lower line to the
// higher one only, -1 the other way; where it is not known, 0.
func (p *Pair) oneWay() int {
	if p.Forward == nil || p.Backward == nil {
		return 0
	}
	const much = 5
	f, b := p.Forward.Value, p.Backward.Value
	way := 0
	switch {
	case p.Backward.AtLeast && !p.Forward.AtLeast || b > much*f:
		way = 1
	case p.Forward.AtLeast && !p.Backward.AtLeast || f > much*b:
		way = -1
	}
	if p.Lines[0] > p.Lines[1] {
		way = -way
	}
	return way
}
