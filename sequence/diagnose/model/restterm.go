package model

import (
	"math"

	"padjig/sequence/diagnose/readings"
	"padjig/sequence/nets"
	"padjig/sequence/product"
)

// restTerm is that of a connection found at rest. It is a surprise unless a fault joins
// its lines, or the nets they belong to: of the leaks between two nets only the least is
// listed, and which that is the noise decides.
type restTerm struct {
	*reader
	nets *nets.Nets
}

func (t restTerm) count() int { return len(t.unit.Rest) }

func (t restTerm) of(i int, h Hypothesis) float64 {
	p := &t.unit.Rest[i]
	best := Surprise
	for j := range h {
		switch f := &h[j]; {
		case f.Effect == Slow && p.Again && t.wouldJoin(f.Key, p):
			best = max(best, -1) // still closed when the lines were read again at the end
		case f.Effect == Bridges:
			best = max(best, t.bridged(p, f))
		case f.Effect == Closed:
			best = max(best, t.stuck(p, f))
		}
	}
	return best
}

// wouldJoin reports whether key k joins the nets, as they were at first, of a pair's lines.
func (t restTerm) wouldJoin(k int, p *readings.Pair) bool {
	key, n := &t.unit.Product.Keys[k], t.unit.FirstNets()
	return n.Pair(key.A, key.B) == n.Pair(p.Lines[0], p.Lines[1])
}

func (t restTerm) bridged(p *readings.Pair, f *Fault) float64 {
	direct := p.Lines.Are(f.Line, f.Mate)
	if !direct && !t.nets.Span(p.Lines, f.Line, f.Mate) {
		return Surprise
	}
	l := -math.Log(bridgeRange)
	if !direct {
		l-- // it has a pair of its own that would as well be listed
	}
	if p.Again {
		l -= 3 // it was not there at first
	}
	switch {
	case p.OneWay() == 0:
	case t.unit.Closure <= p.Ohm.Value:
		l -= 2 // silver that grows may conduct better one way
	default:
		l -= 10
	}
	if !p.Ohm.AtLeast && float64(p.Ohm.Value)+3*float64(p.Ohm.U) < t.pad.tails(f) {
		l += Surprise / 2 // less than the tails alone have
	}
	return l
}

// stuck is a key that is closed at rest: with a resistance like that of a contact, and
// one way only where it has a diode.
func (t restTerm) stuck(p *readings.Pair, f *Fault) float64 {
	key := &t.unit.Product.Keys[f.Key]
	if !p.Lines.Are(key.A, key.B) || p.Ohm.AtLeast {
		return Surprise
	}
	l := 0.0
	if p.Again {
		l-- // it did not open any more
	}
	if key.Diode != product.NoDiode {
		switch p.OneWay() {
		case diodeWay(key):
			return l - math.Log(bridgeRange)/2 // the diode's drop makes its ohms anything
		case 0:
			if p.Forward == nil {
				return l + Surprise/4
			}
		}
		return Surprise / 2
	}
	if p.OneWay() != 0 {
		l -= 10
	}
	r := float64(p.Ohm.Value) - t.healthy[f.Key].Path
	if r <= 0 {
		return l + Surprise/2
	}
	// A contact held closed is like the others, but not as hard pressed.
	const like = 0.6
	z := (math.Log(r) - math.Log(t.healthy[f.Key].Contact)) / like
	return l + student(z) - math.Log(like)
}

// diodeWay is the way of a key's diode: 1 where the lower line is its anode.
func diodeWay(key *product.Key) int {
	if (key.Diode == product.AtoB) == (key.A < key.B) {
		return 1
	}
	return -1
}
