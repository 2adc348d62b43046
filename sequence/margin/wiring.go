package margin

import (
	"math/bits"

	"padjig/sequence/product"
)

// wiring is the keypad as its scanner sees it: which lines it drives and reads, and how keys
// join them.
type wiring struct {
	keys   []product.Key
	ways   []way // by key
	ground lines // always low
	driven lines // in turn
	read   lines // pulled up

	idleDriven bool // driven lines are high while another one is low
}

// way is how the scanner reads a key: it drives one line and reads the other.
type way struct {
	read, driven int
	unread       string
}

// lines is a set of line indices; a product has 64 at most.
type lines uint64

func setOf(line int) lines             { return 1 << line }
func (s lines) has(line int) bool      { return s&setOf(line) != 0 }
func (s lines) meets(other lines) bool { return s&other != 0 }
func (s lines) without(line int) lines { return s &^ setOf(line) }

// all gives the lines in their order.
func (s lines) all(yield func(line int) bool) {
	for s != 0 {
		line := bits.TrailingZeros64(uint64(s))
		if !yield(line) {
			return
		}
		s = s.without(line)
	}
}

func (s lines) count() int { return bits.OnesCount64(uint64(s)) }

func newWiring(p *product.Product) wiring {
	w := wiring{keys: p.Keys, idleDriven: p.Scanner.IdleDriven}
	for i, l := range p.Lines {
		switch l.Kind {
		case product.Row, product.Direct:
			w.read |= setOf(i)
		case product.Column, product.Common:
			w.driven |= setOf(i)
		case product.Ground:
			w.ground |= setOf(i)
		}
	}
	for k := range p.Keys {
		w.ways = append(w.ways, w.way(k))
	}
	return w
}

func (w wiring) way(key int) way {
	k := w.keys[key]
	low := w.driven | w.ground
	switch {
	case w.read.has(k.A) && low.has(k.B):
		return way{k.A, k.B, w.blocked(key, k.A)}
	case w.read.has(k.B) && low.has(k.A):
		return way{k.B, k.A, w.blocked(key, k.B)}
	case w.read.has(k.A):
		return way{k.A, k.B, "both its lines are pulled up, none is driven low"}
	}
	return way{k.A, k.B, "neither of its lines is pulled up and read"}
}

func (w wiring) blocked(key, read int) string {
	if w.conducts(key, read) {
		return ""
	}
	return "its diode blocks the current from the pull-up to the driven line"
}

// conducts reports whether the pressed key lets current flow away from the line.
func (w wiring) conducts(key, from int) bool {
	k := w.keys[key]
	return k.Diode == product.NoDiode || (k.Diode == product.AtoB) == (from == k.A)
}

func (w wiring) linesOf(key int) lines { return setOf(w.keys[key].A) | setOf(w.keys[key].B) }

// columns are the driven lines with keys that are read, each with the rows that they lead to.
func (w wiring) columns() map[int]lines {
	all := map[int]lines{}
	for _, way := range w.ways {
		if way.unread == "" && w.driven.has(way.driven) {
			all[way.driven] |= setOf(way.read)
		}
	}
	return all
}
