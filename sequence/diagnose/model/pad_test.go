package model

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
	"padjig/sequence/diagnose/padtest"
	"padjig/sequence/product"
)

// damage puts faults into a circuit, for a solver that knows nothing of shortcuts.
func damage(k *circuit.Keypad, h Hypothesis) {
	for _, f := range h {
		switch f.Effect {
		case OpenLine:
			k.Break(f.Line, f.After)
		case Adds:
			k.AddSeries(f.Line, f.After, quantity.Ohm(f.Ohm))
		case Bridges:
			k.Bridges = append(k.Bridges, circuit.Bridge{
				From: circuit.Place{Line: f.Line}, To: circuit.Place{Line: f.Mate}, R: quantity.Ohm(f.Ohm),
			})
		}
	}
}

// reads is what an ideal meter reads between two pins, the circuit solved anew: a source
// behind a known resistance, its current from the drop.
func reads(t testing.TB, k *circuit.Keypad, contact []quantity.Ohm, from, to int) float64 {
	t.Helper()
	n := circuit.NewNetwork()
	bus := n.Node()
	const ref = 1000
	n.Source(bus, 1, ref)
	pins := k.Connect(n, contact)
	n.Resistor(bus, pins[from], 1e-6)
	n.Resistor(pins[to], circuit.Earth, 1e-6)
	s, err := n.Solve()
	require.NoError(t, err)
	return float64(s.Volt(pins[from])-s.Volt(pins[to])) / (1 - float64(s.Volt(bus))) * ref
}

// What the low-rank updates predict is what the circuit solved anew reads: random faults
// and keys on a random pad, up to three bridges and three cracks at once. Floating lines
// are held by 1e11 ohm here and by nothing there, so high values differ by value / 1e11.
func TestUpdatesAgainstTheCircuitSolvedAnew(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 1))
	worst := 0.0
	for range 500 {
		p := padtest.Matrix(t, 1+rnd.IntN(6), 1+rnd.IntN(6))
		b := newPad(p)
		h := randomFaults(rnd, p)
		pad := p.Circuit()
		damage(pad, h)
		k := rnd.IntN(len(p.Keys))
		contact := make([]quantity.Ohm, len(p.Keys))
		for i := range contact {
			contact[i] = quantity.Open
		}
		contact[k] = quantity.Ohm(20 + 200*rnd.Float64())
		x, y := b.ends(k)
		branches := []branch{{x, y, float64(contact[k])}}
		for _, f := range h {
			if f.Effect == Bridges {
				branches = append(branches, branch{point{f.Line, 0}, point{f.Mate, 0}, f.Ohm})
			}
		}
		got, want := b.between(p.Keys[k].A, p.Keys[k].B, branches, h), reads(t, pad, contact, p.Keys[k].A, p.Keys[k].B)
		worst = max(worst, math.Abs(got-want)/want)
	}
	t.Logf("worst relative difference %.2g", worst)
	assert.Less(t, worst, 1e-5)
}

func randomFaults(rnd *rand.Rand, p *product.Product) Hypothesis {
	var h Hypothesis
	for range rnd.IntN(4) {
		l := rnd.IntN(len(p.Lines))
		after := rnd.IntN(len(p.Lines[l].Track)) - 1
		if after == 0 {
			after = -1
		}
		h = append(h, Fault{Effect: Adds, Line: l, After: after, Ohm: math.Pow(10, 4*rnd.Float64())})
	}
	for range rnd.IntN(4) {
		a, b := rnd.IntN(len(p.Lines)), rnd.IntN(len(p.Lines))
		if a != b {
			h = append(h, Fault{Effect: Bridges, Line: a, Mate: b, Ohm: math.Pow(10, 6*rnd.Float64())})
		}
	}
	return h
}

// A break leaves nothing beyond it.
func TestBreakIsOpenBeyond(t *testing.T) {
	p := padtest.Matrix(t, 4, 4)
	b := newPad(p)
	k := p.Key("2.3") // the third key of its row
	x, y := b.ends(k)
	for after, beyond := range map[int]bool{-1: true, 2: true, 3: false} {
		h := Hypothesis{{Effect: OpenLine, Line: p.Line("R2"), After: after, Ohm: parted}}
		r := b.between(p.Keys[k].A, p.Keys[k].B, []branch{{x, y, 60}}, h)
		assert.Equal(t, beyond, r > 1e6, "broken after %d: %v", after, r)
	}
}

// Sneak paths, without diodes, other lines floating: three closed keys of a rectangle
// read at the fourth corner as the sum of the three, and with all keys of an m x n pad
// closed each reads R (m + n - 1) / (m n), as follows from the circuit; 4x3: 0.5 R, 4x4:
// 0.4375 R, 8x8: 0.234 R. Tracks are 1.5 ohm here, contacts 1 Mohm, so the tolerance is
// what the tracks make: 100 ppm.
func TestSneakPaths(t *testing.T) {
	const r = 1e6
	close := func(b *pad, keys ...int) []branch {
		var all []branch
		for _, k := range keys {
			x, y := b.ends(k)
			all = append(all, branch{x, y, r})
		}
		return all
	}
	p := padtest.Matrix(t, 4, 3)
	b := newPad(p)
	corner := b.between(p.Line("R2"), p.Line("C2"), close(b, p.Key("1.1"), p.Key("1.2"), p.Key("2.1")), nil)
	assert.InEpsilon(t, 3*r, corner, 1e-4, "three in series")
	one := b.between(p.Line("R2"), p.Line("C2"), close(b, p.Key("1.1"), p.Key("1.2"), p.Key("2.1"), p.Key("2.2")), nil)
	assert.InEpsilon(t, 0.75*r, one, 1e-4, "one of four closed corners")
	for _, c := range []struct {
		m, n  int
		share float64
	}{{4, 3, 0.5}, {4, 4, 0.4375}, {8, 8, 0.234375}} {
		p := padtest.Matrix(t, c.m, c.n)
		b := newPad(p)
		every := make([]int, len(p.Keys))
		for i := range every {
			every[i] = i
		}
		got := b.between(p.Line("R1"), p.Line("C1"), close(b, every...), nil)
		assert.InEpsilon(t, c.share*r, got, 3e-4, "%dx%d", c.m, c.n)
		assert.InDelta(t, float64(c.m+c.n-1)/float64(c.m*c.n), c.share, 1e-12)
	}
}
