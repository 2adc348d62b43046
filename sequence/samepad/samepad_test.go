package samepad_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distmv"

	"padjig/sequence/samepad"
)

// drawn are pads of a lot that are as the model has them, and their makings.
func drawn(seed uint64, n, keys int, scatter float64) (made [][]float64, read []samepad.Pad) {
	r := rand.New(rand.NewPCG(seed, 1))
	for range n {
		made = append(made, normal(r, keys, 0))
		read = append(read, press(r, made[len(made)-1], scatter))
	}
	return made, read
}

// exactly is a scatter of presses that is known, with no key that may have changed.
func exactly(within float64) samepad.Scatter { return samepad.Scatter{Least: within, Most: within} }

// The ratio of two multivariate normal densities of gonum: of both runs' readings, whose mean is
// not known (a normal so wide that it says nothing), when they are one pad and when they
// are two. Two levels of variance, as D. V. Lindley has them (Biometrika 64 (1977) 207-213).
func TestRatioIsThatOfTwoNormals(t *testing.T) {
	const keys, wide, within, between = 9, 1e4, 0.02, 0.1
	density := func(x []float64, cov float64) float64 {
		sigma := mat.NewSymDense(2, []float64{
			wide + between*between, wide + cov, wide + cov, wide + between*between,
		})
		d, ok := distmv.NewNormal(make([]float64, 2), sigma, nil)
		require.True(t, ok)
		return d.LogProb(x)
	}
	r := rand.New(rand.NewPCG(3, 1))
	lot := samepad.Lot{Pads: 20, Independent: keys - 1, Typical: between}
	for range keys {
		lot.Between = append(lot.Between, between)
	}
	lot = samepad.Whole(lot, keys)
	for range 20 {
		a, b := make(samepad.Pad, keys), make(samepad.Pad, keys)
		want := 0.0
		for k := range keys {
			d := 0.05 * r.NormFloat64()
			if k == keys-1 {
				d = 0 // the median of the others
			}
			if k%2 == 1 {
				d = -math.Abs(d)
			} else {
				d = math.Abs(d)
			}
			a[k], b[k] = samepad.Reading{Ohm: 60 * math.Exp(d/2)}, samepad.Reading{Ohm: 60 * math.Exp(-d/2)}
			x := []float64{d / 2, -d / 2}
			want += density(x, between*between-within*within) - density(x, 0)
		}
		got := lot.Compare(a, b, exactly(within))
		assert.Equal(t, keys, got.Keys)
		// The shift of all keys together took one key's worth of them.
		assert.InDelta(t, want*(keys-1)/keys, got.Log, 1e-5*math.Abs(want)+1e-5) // the wide normal is not quite flat
	}
}

func TestWhatAllKeysHaveInCommonDoesNotCount(t *testing.T) {
	made, read := drawn(4, 20, 20, 0.01)
	lot := samepad.LotOf(read, samepad.Presses())
	again := press(rand.New(rand.NewPCG(8, 1)), made[3], 0.01)
	plain := lot.Compare(again, read[3], samepad.Presses())
	require.Greater(t, plain.Log, samepad.Threshold(20))
	for _, factor := range []float64{0.5, 1.3, 3} { // film, temperature, another unit
		other := make(samepad.Pad, len(again))
		for k, r := range again {
			other[k] = samepad.Reading{Ohm: factor * r.Ohm, U: factor * r.U}
		}
		got := lot.Compare(other, read[3], samepad.Presses())
		assert.InDelta(t, plain.Log, got.Log, 1e-9)
		assert.InDelta(t, plain.Shift+math.Log(factor), got.Shift, 1e-9)
		assert.InDelta(t, plain.Log, lot.Compare(read[3], other, samepad.Presses()).Log, 1e-9, "either way round")
	}
}

// A key that is open, worn through or repaired leaves the others to compare.
func TestAKeyThatChangedLeavesTheOthers(t *testing.T) {
	made, read := drawn(5, 20, 20, 0.005)
	lot := samepad.LotOf(read, samepad.Presses())
	again := press(rand.New(rand.NewPCG(9, 1)), made[3], 0.005)
	whole := lot.Compare(again, read[3], samepad.Presses()).Log
	for key, ohm := range map[int]float64{0: 640, 7: 0, 12: math.Inf(1), 19: 15} {
		was := again[key]
		again[key].Ohm = ohm
		got := lot.Compare(again, read[3], samepad.Presses())
		assert.Greater(t, got.Log, samepad.Threshold(20), "key %d", key)
		assert.Less(t, got.Log, whole)
		again[key] = was
	}
}

// Copies among the pads that the lot is learned from are few pairs of many.
func TestCopiesAmongThoseLearnedFrom(t *testing.T) {
	made, read := drawn(6, 20, 20, 0.005)
	r := rand.New(rand.NewPCG(10, 1))
	for n, copies := range []int{2, 3, 4, 6} {
		with := append([]samepad.Pad{}, read...)
		for i := range copies {
			with[10+i] = press(r, made[3], 0.005)
		}
		lot := samepad.LotOf(with, samepad.Presses())
		assert.Equal(t, 1, lot.Twins, "one pad under several numbers")
		assert.Greater(t, lot.Compare(press(r, made[3], 0.005), with[3], samepad.Presses()).Log, samepad.Threshold(20), "%d copies", copies)
		for _, other := range with {
			assert.Less(t, lot.Compare(press(r, normal(r, 20, 0), 0.005), other, samepad.Presses()).Log, samepad.Threshold(20), n)
		}
	}
}

// It never accuses where nothing can be told.
func TestWhatCannotBeTold(t *testing.T) {
	made, read := drawn(7, 20, 20, 0.005)
	r := rand.New(rand.NewPCG(11, 1))
	silent := func(t *testing.T, lot samepad.Lot, a, b samepad.Pad) {
		got := lot.Compare(a, b, samepad.Presses())
		assert.Less(t, got.Log, samepad.Threshold(20))
		assert.True(t, !lot.Tells() || got.Most < samepad.Threshold(20), "%+v", got)
	}
	t.Run("too few pads", func(t *testing.T) {
		silent(t, samepad.LotOf(read[:samepad.LeastPads-1], samepad.Presses()), press(r, made[0], 0.005), read[0])
	})
	t.Run("too few pads when copies count once", func(t *testing.T) {
		few := append([]samepad.Pad{}, read[:samepad.LeastPads]...)
		few[3] = press(r, made[2], 0)
		few[2] = press(r, made[2], 0)
		lot := samepad.LotOf(few, samepad.Presses())
		silent(t, lot, press(r, made[2], 0), few[2])
		assert.False(t, lot.Tells())
	})
	t.Run("no pads", func(t *testing.T) { silent(t, samepad.LotOf(nil, samepad.Presses()), read[0], read[0]) })
	t.Run("too few keys", func(t *testing.T) {
		few := make([]samepad.Pad, len(read))
		for i, pad := range read {
			few[i] = pad[:samepad.LeastKeys-1]
		}
		silent(t, samepad.LotOf(few, samepad.Presses()), few[0], few[0])
	})
	t.Run("keys that were read of one alone", func(t *testing.T) {
		half := append(samepad.Pad{}, read[1]...)
		for k := range half[3:] {
			half[3+k] = samepad.Reading{}
		}
		silent(t, samepad.Lot{}, half, read[1])
		assert.Zero(t, samepad.LotOf(read, samepad.Presses()).Compare(half, read[1], samepad.Presses()).Log)
	})
	t.Run("pads that are all one", func(t *testing.T) {
		var one []samepad.Pad
		for range 20 {
			one = append(one, press(r, made[0], 0))
		}
		silent(t, samepad.LotOf(one, samepad.Presses()), press(r, made[0], 0), one[4])
	})
	t.Run("pads that read equal to the last digit", func(t *testing.T) {
		var one []samepad.Pad
		for range 20 {
			one = append(one, read[0])
		}
		silent(t, samepad.LotOf(one, samepad.Presses()), read[0], read[0])
	})
	t.Run("pads that differ no more than presses do", func(t *testing.T) {
		var one []samepad.Pad
		for range 20 {
			one = append(one, press(r, made[0], 0.05))
		}
		lot := samepad.LotOf(one, samepad.Presses())
		for range 200 {
			assert.Less(t, lot.Compare(press(r, made[0], 0.05), one[r.IntN(20)], samepad.Presses()).Log, samepad.Threshold(20))
		}
	})
	t.Run("pads from two moulds that are alike in each", func(t *testing.T) {
		var pairs []samepad.Pad
		for i := range 20 {
			pairs = append(pairs, press(r, made[i%10], 0.002))
		}
		assert.False(t, samepad.LotOf(pairs, samepad.Presses()).Tells())
	})
}

// Seen over the years a pad may wear and still be itself, and takes more to be told from others.
func TestYearsAllowForMore(t *testing.T) {
	made, read := drawn(12, 20, 48, 0.01)
	r := rand.New(rand.NewPCG(13, 1))
	lot := samepad.LotOf(read, samepad.Presses())
	worn := press(r, made[2], 0.03)
	for k := 0; k < 48; k += 10 {
		worn[k].Ohm *= 1.6
	}
	got := lot.Compare(worn, read[2], samepad.Years())
	assert.Greater(t, got.Log, -samepad.Doubtful())
	assert.Less(t, lot.Compare(read[2], read[2], samepad.Years()).Most, lot.Compare(read[2], read[2], samepad.Presses()).Most)
	assert.Less(t, lot.Compare(worn, read[3], samepad.Years()).Log, samepad.Doubtful())
}

func BenchmarkCompare(b *testing.B) {
	for name, keys := range map[string]int{"20 keys": 20, "104 keys": 104} {
		b.Run(name, func(b *testing.B) {
			_, read := drawn(14, 21, keys, 0.01)
			for b.Loop() {
				lot := samepad.LotOf(read[1:], samepad.Presses())
				for _, other := range read[1:] {
					lot.Compare(read[0], other, samepad.Presses())
				}
			}
		})
	}
}
