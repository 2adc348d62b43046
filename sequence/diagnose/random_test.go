package diagnose

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/quantity"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/product"
)

// Whatever the evidence, also one that contradicts itself: a diagnosis comes back, its
// probabilities are some, its weights add up, and everything wrong is either explained or
// said not to be.
func TestAnyEvidence(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 1))
	for _, name := range []string{"gcc-20", "vent-6", "bay-16"} {
		s := healthySubject(t, name)
		for range 150 {
			e := spoilt(rnd, s)
			d := Diagnose(e)
			require.NotEmpty(t, d.Sum)
			assert.True(t, d.Probability >= 0 && d.Probability <= 1+1e-9, "%v", d.Probability)
			assert.LessOrEqual(t, d.Found, len(d.Groups))
			for _, g := range d.Groups {
				whole(t, g)
			}
			if e.Wrong() {
				assert.True(t, d.Found > 0 || len(d.Unexplained) > 0, "%+v", e)
			}
		}
	}
}

func whole(t *testing.T, g Group) {
	t.Helper()
	sum := 0.0
	for i, c := range g.Causes {
		sum += c.Weight
		assert.Contains(t, kinds, c.Kind)
		assert.NotEmpty(t, c.Place.Code)
		assert.True(t, i == 0 || c.Weight <= g.Causes[i-1].Weight+1e-12, "sorted")
	}
	assert.InDelta(t, 1, sum, 1e-9)
	assert.True(t, g.Probability >= 0 && g.Probability <= 1, "%v", g.Probability)
}

// spoilt changes some readings at random.
func spoilt(rnd *rand.Rand, s *subject) readings.Unit {
	e := s.Unit
	e.Keys = append([]readings.Key{}, s.Keys...)
	for range rnd.IntN(6) {
		k := rnd.IntN(len(e.Keys))
		e.Keys[k] = anyKey(rnd, e.Product.Keys[k])
	}
	lines := len(e.Product.Lines)
	for range rnd.IntN(4) {
		if a, b := rnd.IntN(lines), rnd.IntN(lines); a != b {
			e.Rest = append(e.Rest, readings.Pair{Lines: readings.Lines{a, b}, Ohm: anyReading(rnd), Trend: readings.Trend(rnd.IntN(4)), Gone: rnd.IntN(4) == 0, Again: rnd.IntN(4) == 0})
		}
	}
	k := rnd.IntN(len(e.Keys))
	own := e.Product.Keys[k]
	if a, b := rnd.IntN(lines), rnd.IntN(lines); a != b && !(readings.Lines{a, b}).Are(own.A, own.B) && rnd.IntN(3) == 0 {
		e.Held = append(e.Held, readings.Held{Key: k, Lines: readings.Lines{a, b}, Ohm: anyReading(rnd)})
	}
	e.Gone = rnd.IntN(8) == 0
	e.Seats = append([]readings.Seat{}, s.Seats...)
	if rnd.IntN(6) == 0 {
		e.Seats[rnd.IntN(len(e.Seats))].Good = false
	}
	return e
}

func anyReading(rnd *rand.Rand) readings.Reading {
	v := logUniform(rnd, 1e-3, 1e9)
	return readings.Reading{Value: ohm(v), U: ohm(v * rnd.Float64() * 0.1), AtLeast: rnd.IntN(4) == 0}
}

func anyKey(rnd *rand.Rand, key product.Key) readings.Key {
	r := anyReading(rnd)
	k := readings.Key{State: readings.KeyState(rnd.IntN(5)), Late: rnd.IntN(5) == 0, Teases: rnd.IntN(5) == 0, Alone: rnd.IntN(2) == 0}
	if k.State == readings.Closed {
		k.Closed = &r
		rnd.IntN(40)
		k.Make = readings.Short
		if rnd.IntN(3) == 0 {
			k.Make = readings.Long
		}
	}
	if key.Diode != product.NoDiode {
		back := anyReading(rnd)
		k.Reverse, k.Forward = &back, &readings.Forward{Value: quantity.Volt(rnd.Float64()), U: 1e-3}
	}
	return k
}

func logUniform(rnd *rand.Rand, low, high float64) float64 {
	return low * math.Pow(high/low, rnd.Float64())
}
