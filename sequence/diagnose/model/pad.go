package model

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"padjig/sequence/product"
)

// pad is a good unit with nothing pressed, as a circuit whose inverse is known.
//
// Nothing joins its lines, and each is a chain from its pin, held by a resistance to
// Earth far above anything that is read. So the inverse of its matrix of conductances
// needs no elimination: between two taps of a line it is that resistance plus the track
// they have in common from the pin on, and between lines it is 0. A series resistance
// adds to what is common beyond it. What joins lines is a low-rank update.
type pad struct {
	product *product.Product
	depth   [][]float64 // by line and tap, from the pin: 0 is the start of the track
	tap     [][2]int    // by key: which tap it is on its line A and on B, from 1
}

// floating holds every line to Earth. It is far above what is read and leaves eleven
// digits below it: 1e11 in float64 is known to 1e-5 ohm.
const floating = 1e11

// parted is a break: far above what counts as open, and far enough below the end of
// float64's digits.
const parted = 1e12

func newPad(p *product.Product) *pad {
	k := p.Circuit()
	b := &pad{product: p, depth: make([][]float64, len(k.Lines)), tap: make([][2]int, len(k.Keys))}
	for l, line := range k.Lines {
		depth := []float64{float64(line.Tail)}
		for i, s := range line.Track {
			depth = append(depth, depth[i]+float64(s.R))
			if s.Key >= 0 {
				b.reach(l, i+1, s.Key)
			}
		}
		b.depth[l] = depth
	}
	return b
}

func (b *pad) reach(line, tap, key int) {
	if b.product.Keys[key].A == line {
		b.tap[key][0] = tap
	} else {
		b.tap[key][1] = tap
	}
}

// point is a place of a line: -1 is the pin, 0 the start of the track, i its i-th tap.
type point struct{ line, at int }

func pin(line int) point { return point{line, -1} }

// ends are the two places that key k joins.
func (b *pad) ends(k int) (point, point) {
	key := b.product.Keys[k]
	return point{key.A, b.tap[k][0]}, point{key.B, b.tap[k][1]}
}

// common is the track that two places have in common from the pin, and with it the
// inverse between them, less what holds the line.
func (b *pad) common(x, y point, h Hypothesis) float64 {
	at := min(x.at, y.at)
	if at < 0 {
		return 0
	}
	sum := b.depth[x.line][at]
	for i := range h {
		if f := &h[i]; f.IsSeries() && f.Line == x.line && f.After < at {
			sum += f.Ohm
		}
	}
	return sum
}

// inverse is the element of the inverse between two places, under the series faults of h.
func (b *pad) inverse(x, y point, h Hypothesis) float64 {
	if x.line != y.line {
		return 0
	}
	return floating + b.common(x, y, h)
}

// branch joins two places through a resistance.
type branch struct {
	a, b point
	ohm  float64
}

// across is u' Z v for two branches, u and v being 1 at one end and -1 at the other.
func (b *pad) across(u, v branch, h Hypothesis) float64 {
	return b.inverse(u.a, v.a, h) - b.inverse(u.a, v.b, h) - b.inverse(u.b, v.a, h) + b.inverse(u.b, v.b, h)
}

// between is the resistance from one pin to another with the branches in place, all
// else floating: e'Ze - w'(R + U'ZU)^-1 w with w = U'Ze (Woodbury's identity, from
// memory; the closed form for one branch is that of Sherman and Morrison).
func (b *pad) between(from, to int, branches []branch, h Hypothesis) float64 {
	e := branch{a: pin(from), b: pin(to)}
	open := b.across(e, e, h)
	switch len(branches) {
	case 0:
		return open
	case 1:
		w := b.across(branches[0], e, h)
		return open - w*w/(branches[0].ohm+b.across(branches[0], branches[0], h))
	}
	n := len(branches)
	m, w := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i, u := range branches {
		w.SetVec(i, b.across(u, e, h))
		for j, v := range branches[:i+1] {
			m.SetSym(i, j, b.across(u, v, h))
		}
		m.SetSym(i, i, m.At(i, i)+u.ohm)
	}
	var x mat.VecDense
	if err := x.SolveVec(m, w); err != nil {
		if _, poor := err.(mat.Condition); !poor || math.IsNaN(mat.Dot(w, &x)) {
			return open
		}
	}
	return open - mat.Dot(w, &x)
}

// path is the track that a key's current takes on both its lines in a good unit.
func (b *pad) path(k int, h Hypothesis) float64 {
	x, y := b.ends(k)
	return b.common(x, x, h) + b.common(y, y, h)
}

// segments are the places a line can be broken at: in its tail, and before each tap
// but where nothing lies between.
func (b *pad) segments(line int) []int {
	after := []int{-1}
	for i := 1; i < len(b.depth[line])-1; i++ {
		after = append(after, i)
	}
	return after
}

// beyond lists the keys that a fault of a line concerns.
func (b *pad) beyond(f *Fault) []int {
	track := b.product.Lines[f.Line].Track
	return track[min(max(f.After, 0), len(track)):]
}

// behind reports whether key k lies behind a fault of one of its lines.
func (b *pad) behind(k int, f *Fault) bool {
	key := &b.product.Keys[k]
	return f.Line == key.A && f.After < b.tap[k][0] || f.Line == key.B && f.After < b.tap[k][1]
}

// extra is the series resistance that the faults of h put before key k.
func (b *pad) extra(k int, h Hypothesis) (sum float64) {
	for i := range h {
		if f := &h[i]; f.IsSeries() && b.behind(k, f) {
			sum += f.Ohm
		}
	}
	return sum
}

// tails is the mean of what two lines have between pin and track.
func (b *pad) tails(f *Fault) float64 { return 0.5 * (b.depth[f.Line][0] + b.depth[f.Mate][0]) }
