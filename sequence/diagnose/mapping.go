package diagnose

import (
	"fmt"

	"padjig/sequence/product"
)

// mapping is where the jig finds each key when lines lie in other places than they
// should: a tail put in wrongly, lines exchanged, another product.
type mapping struct {
	kind  Kind
	place string
	lines []int // those concerned, of the product
	by    int   // pins that a tail is shifted
	rate  float64
	// at[k] are the two lines in whose places key k is found; -1 twice if it is not.
	at [][2]int
	// turned[k] is set when the key's diode then conducts the other way.
	turned []bool
	bare   []bool // by pin, from 0: no pad under this channel
	vacant []bool // likewise: an unused pin under it, which may have a pad or not
}

// slots says on which channel each tail pin comes to lie.
type slots func(pin int) int

// lay works out where the keys of p are found with its pins moved.
func lay(p *product.Product, kind Kind, place string, rate float64, move slots) *mapping {
	m := &mapping{kind: kind, place: place, rate: rate, bare: make([]bool, len(p.Tail)), vacant: make([]bool, len(p.Tail))}
	lineOn := make([]int, len(p.Tail)) // by channel: the line that belongs there
	for c, name := range p.Tail {
		lineOn[c] = p.Line(name)
		m.bare[c] = true
	}
	found := func(line int) int {
		c := move(p.Lines[line].Pin) - 1
		if c < 0 || c >= len(lineOn) {
			return -1
		}
		return lineOn[c]
	}
	for pin := range p.Tail {
		if c := move(pin+1) - 1; c >= 0 && c < len(m.bare) {
			m.bare[c], m.vacant[c] = false, p.Tail[pin] == ""
		}
	}
	for l := range p.Lines {
		if p.Lines[l].Pin > 0 && found(l) != l {
			m.lines = append(m.lines, l)
		}
	}
	for _, key := range p.Keys {
		m.add(key, found(key.A), found(key.B))
	}
	return m
}

func (m *mapping) add(key product.Key, a, b int) {
	if a < 0 || b < 0 {
		a, b = -1, -1
	}
	m.at = append(m.at, [2]int{a, b})
	m.turned = append(m.turned, key.Diode != product.NoDiode && a == key.B && b == key.A)
}

// shift is a tail that lies n pins too far on.
func shift(p *product.Product, n int) *mapping {
	place := fmt.Sprintf("the tail lies %d pin%s too far towards its last", abs(n), plural(abs(n)))
	if n < 0 {
		place = fmt.Sprintf("the tail lies %d pin%s too far towards its first", abs(n), plural(abs(n)))
	}
	m := lay(p, TailShifted, place, kinds[TailShifted].Prior/4, func(pin int) int { return pin + n })
	m.by = n
	return m
}

// mirror is a tail put in with its last pin first.
func mirror(p *product.Product) *mapping {
	return lay(p, TailReversed, "the tail lies the wrong way round", kinds[TailReversed].Prior,
		func(pin int) int { return len(p.Tail) + 1 - pin })
}

// swap is two lines in each other's place.
func swap(p *product.Product, a, b int) *mapping {
	x, y := p.Lines[a].Pin, p.Lines[b].Pin
	place := fmt.Sprintf("%s (pin %d) and %s (pin %d) have changed places", p.Lines[a].Name, x, p.Lines[b].Name, y)
	n := float64(len(p.Lines))
	return lay(p, LinesExchanged, place, kinds[LinesExchanged].Prior*2/(n*n), func(pin int) int {
		switch pin {
		case x:
			return y
		case y:
			return x
		}
		return pin
	})
}

// other is another product in the jig: its keys lie under the actuators of those of p
// and join its own pins.
func other(p, q *product.Product) *mapping {
	m := &mapping{
		kind: WrongProduct, place: fmt.Sprintf("the unit is laid out like %s (%s)", q.Code, q.Title),
		rate: kinds[WrongProduct].Prior, bare: make([]bool, len(p.Tail)), vacant: make([]bool, len(p.Tail)),
	}
	for c := range p.Tail {
		m.bare[c] = c >= len(q.Tail)
		m.vacant[c] = !m.bare[c] && q.Tail[c] == ""
	}
	lineOn := func(l int) int {
		if c := q.Lines[l].Pin - 1; c >= 0 && c < len(p.Tail) {
			return p.Line(p.Tail[c])
		}
		return -1
	}
	for k, key := range p.Keys {
		a, b := -1, -1
		if o := under(q, key.Actuator); o >= 0 {
			a, b = lineOn(q.Keys[o].A), lineOn(q.Keys[o].B)
		}
		m.add(p.Keys[k], a, b)
	}
	return m
}

// under is the key of q under an actuator.
func under(q *product.Product, actuator int) int {
	for k, key := range q.Keys {
		if key.Actuator == actuator {
			return k
		}
	}
	return -1
}

// then is m with the lines found by it moved once more by n.
func (m *mapping) then(n *mapping, p *product.Product) *mapping {
	place := map[int]int{}
	for l := range p.Lines {
		place[l] = l
	}
	for _, l := range n.lines {
		place[l] = -1
	}
	if len(n.lines) == 2 && n.kind == LinesExchanged {
		place[n.lines[0]], place[n.lines[1]] = n.lines[1], n.lines[0]
	}
	out := &mapping{kind: LinesExchanged, place: m.place + "; " + n.place, rate: m.rate * n.rate, bare: m.bare, vacant: m.vacant}
	out.lines = append(append(out.lines, m.lines...), n.lines...)
	for k, key := range p.Keys {
		a, b := m.at[k][0], m.at[k][1]
		if a >= 0 && b >= 0 {
			a, b = place[a], place[b]
		}
		out.add(key, a, b)
	}
	return out
}

// own reports whether key k is found where it should be.
func (m *mapping) own(p *product.Product, k int) bool {
	return ordered(m.at[k][0], m.at[k][1]) == ordered(p.Keys[k].A, p.Keys[k].B)
}

// mappings are those worth trying on what was read elsewhere: the tail off its place by
// up to two pins, turned round, any two of the lines that were found connected, and the
// other products.
func (m *model) mappings() []*mapping {
	p := m.ev.Product
	var all []*mapping
	for _, n := range []int{1, -1, 2, -2} {
		if abs(n) < len(p.Tail) {
			all = append(all, shift(p, n))
		}
	}
	all = append(all, mirror(p))
	swaps := m.swaps()
	all = append(all, swaps...)
	if len(swaps) > 1 && len(m.ev.Held) > 3 {
		all = append(all, m.twoSwaps(swaps)...)
	}
	for _, q := range m.ev.Known {
		if q.Hash() != p.Hash() {
			all = append(all, other(p, q))
		}
	}
	return all
}

// swaps are all exchanges of two lines that were found connected elsewhere.
func (m *model) swaps() []*mapping {
	p := m.ev.Product
	involved, unknown := map[int]bool{}, false
	note := func(k int, lines ...int) {
		involved[p.Keys[k].A], involved[p.Keys[k].B] = true, true
		for _, l := range lines {
			involved[l] = true
		}
	}
	for _, h := range m.ev.Held {
		note(h.Key, h.Lines[:]...)
	}
	for k := range m.ev.Keys {
		if key := &m.ev.Keys[k]; key.State == Reversed || key.Stray {
			note(k)
			unknown = unknown || key.Stray // with which line, nobody looked
		}
	}
	var out []*mapping
	for a := range p.Lines {
		for b := range a {
			concerned := involved[a] && involved[b] || unknown && (involved[a] || involved[b])
			if concerned && p.Lines[a].Pin > 0 && p.Lines[b].Pin > 0 {
				out = append(out, swap(p, a, b))
			}
		}
	}
	return out
}

// twoSwaps are the pairs of exchanges that share no line.
func (m *model) twoSwaps(swaps []*mapping) []*mapping {
	const most = 40 // exchanges: beyond, only those that explain something by themselves
	if len(swaps) > most {
		swaps = m.telling(swaps, most)
	}
	var out []*mapping
	for i, s := range swaps {
		for _, t := range swaps[:i] {
			if ordered(s.lines[0], s.lines[1]) != ordered(t.lines[0], t.lines[1]) && disjoint(s.lines, t.lines) {
				out = append(out, s.then(t, m.ev.Product))
			}
		}
	}
	return out
}

// telling are the exchanges that explain most of what was found elsewhere.
func (m *model) telling(swaps []*mapping, most int) []*mapping {
	explained := func(s *mapping) (n int) {
		for _, h := range m.ev.Held {
			if ordered(s.at[h.Key][0], s.at[h.Key][1]) == ordered(h.Lines[0], h.Lines[1]) {
				n++
			}
		}
		return n
	}
	return mostOf(swaps, most, explained)
}

func disjoint(a, b []int) bool {
	for _, x := range a {
		for _, y := range b {
			if x == y {
				return false
			}
		}
	}
	return true
}

func ordered(a, b int) [2]int { return [2]int{min(a, b), max(a, b)} }

func abs(n int) int { return max(n, -n) }

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}
