package judge

import (
	"slices"

	"padjig/sequence/product"
)

// Rectangle is a test of one key's diode: its own key and two neighbours of
// a rectangle held, the fourth corner must stay open. Current to the fourth
// would have to run backwards through the diode under test.
type Rectangle struct {
	Under  int    // key whose diode is tested
	Held   [3]int // the three keys held, Under among them
	Fourth int    // the corner read
}

// RectangleOf finds a rectangle of keys with diodes whose opposite corner is k.
func RectangleOf(p *product.Product, k int) (Rectangle, bool) {
	under := p.Keys[k]
	if !hasDiode(under) {
		return Rectangle{}, false
	}
	like := func(a, b int) int {
		i := slices.IndexFunc(p.Keys, func(k product.Key) bool { return k.A == a && k.B == b })
		if i >= 0 && p.Keys[i].Diode != under.Diode {
			return -1
		}
		return i
	}
	for f, fourth := range p.Keys {
		if fourth.Diode != under.Diode || fourth.A == under.A || fourth.B == under.B {
			continue
		}
		if a, b := like(under.A, fourth.B), like(fourth.A, under.B); a >= 0 && b >= 0 {
			return Rectangle{Under: k, Held: [3]int{k, a, b}, Fourth: f}, true
		}
	}
	return Rectangle{}, false
}
