package model

import (
	"slices"

	"padjig/sequence/diagnose/readings"
	"padjig/sequence/product"
)

// Way is how lines come to lie in other places than they should.
type Way uint8

// The ways.
const (
	Shifted   Way = iota // the tail, by whole pins
	Reversed             // the tail, last pin first
	Exchanged            // lines in each other's place, two and two
	Another              // another product
)

// Layout is where the jig finds each key when lines lie in other places than they should.
type Layout struct {
	Way   Way
	Lines []int            // those concerned, of the product
	By    int              // pins that a tail is shifted
	Of    *product.Product // the other product
	// at[k] are the two lines in whose places key k is found; -1 twice if it is not.
	at []readings.Lines
	// turned[k] is set when the key's diode then conducts the other way.
	turned []bool
	bare   []bool // by pin, from 0: no pad under this channel
	vacant []bool // likewise: an unused pin under it, which may have a pad or not
}

// lay works out where the keys of p are found with its pins moved: move says on which
// channel each tail pin comes to lie.
func lay(p *product.Product, way Way, move func(pin int) int) *Layout {
	l := &Layout{Way: way, bare: make([]bool, len(p.Tail)), vacant: make([]bool, len(p.Tail))}
	lineOn := make([]int, len(p.Tail)) // by channel: the line that belongs there
	for c, name := range p.Tail {
		lineOn[c] = p.Line(name)
		l.bare[c] = true
	}
	found := func(line int) int {
		c := move(p.Lines[line].Pin) - 1
		if c < 0 || c >= len(lineOn) {
			return -1
		}
		return lineOn[c]
	}
	for pin := range p.Tail {
		if c := move(pin+1) - 1; c >= 0 && c < len(l.bare) {
			l.bare[c], l.vacant[c] = false, p.Tail[pin] == ""
		}
	}
	for i := range p.Lines {
		if p.Lines[i].Pin > 0 && found(i) != i {
			l.Lines = append(l.Lines, i)
		}
	}
	for _, key := range p.Keys {
		l.add(key, found(key.A), found(key.B))
	}
	return l
}

func (l *Layout) add(key product.Key, a, b int) {
	if a < 0 || b < 0 {
		a, b = -1, -1
	}
	l.at = append(l.at, readings.Lines{a, b})
	l.turned = append(l.turned, key.Diode != product.NoDiode && a == key.B && b == key.A)
}

// Shift is a tail that lies n pins too far on.
func Shift(p *product.Product, n int) *Layout {
	l := lay(p, Shifted, func(pin int) int { return pin + n })
	l.By = n
	return l
}

// Mirror is a tail put in with its last pin first.
func Mirror(p *product.Product) *Layout {
	return lay(p, Reversed, func(pin int) int { return len(p.Tail) + 1 - pin })
}

// Swap is two lines in each other's place.
func Swap(p *product.Product, a, b int) *Layout {
	x, y := p.Lines[a].Pin, p.Lines[b].Pin
	return lay(p, Exchanged, func(pin int) int {
		switch pin {
		case x:
			return y
		case y:
			return x
		}
		return pin
	})
}

// Replaced is another product in the jig: its keys lie under the actuators of those of p
// and join its own pins.
func Replaced(p, q *product.Product) *Layout {
	l := &Layout{Way: Another, Of: q, bare: make([]bool, len(p.Tail)), vacant: make([]bool, len(p.Tail))}
	for c := range p.Tail {
		l.bare[c] = c >= len(q.Tail)
		l.vacant[c] = !l.bare[c] && q.Tail[c] == ""
	}
	lineOn := func(line int) int {
		if c := q.Lines[line].Pin - 1; c >= 0 && c < len(p.Tail) {
			return p.Line(p.Tail[c])
		}
		return -1
	}
	for _, key := range p.Keys {
		a, b := -1, -1
		if o := slices.IndexFunc(q.Keys, func(o product.Key) bool { return o.Actuator == key.Actuator }); o >= 0 {
			a, b = lineOn(q.Keys[o].A), lineOn(q.Keys[o].B)
		}
		l.add(key, a, b)
	}
	return l
}

// And is l with the two lines of another exchange moved as well.
func (l *Layout) And(swap *Layout, p *product.Product) *Layout {
	out := &Layout{Way: Exchanged, bare: l.bare, vacant: l.vacant, Lines: slices.Concat(l.Lines, swap.Lines)}
	then := func(line int) int {
		if i := slices.Index(swap.Lines, line); i >= 0 {
			return swap.Lines[1-i]
		}
		return line
	}
	for k, key := range p.Keys {
		a, b := l.at[k][0], l.at[k][1]
		if a >= 0 && b >= 0 {
			a, b = then(a), then(b)
		}
		out.add(key, a, b)
	}
	return out
}

// At are the lines in whose places key k is found; -1 twice if it is not.
func (l *Layout) At(k int) readings.Lines { return l.at[k] }

// Own reports whether key k is found where it should be.
func (l *Layout) Own(p *product.Product, k int) bool { return l.at[k].Are(p.Keys[k].A, p.Keys[k].B) }
