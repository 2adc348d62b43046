package compare

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/stats/reference"
)

// By hand: two strata of two against two. In the first all of x are larger, U 4 of 4; in the
// second U is 3. Weights are 1/5; each U has variance 2*2*5/12.
func TestVanElterenByHand(t *testing.T) {
	got, err := VanElteren([]Stratum{{[]float64{3, 4}, []float64{1, 2}}, {[]float64{12, 14}, []float64{11, 13}}, {[]float64{7}, nil}}, 0.95)
	require.NoError(t, err)
	reference.Agrees(t, 12, 7./5, got.U)
	reference.Agrees(t, 12, 7./8, got.Larger)
	z := (7./5 - 4./5 - 0.1) / math.Sqrt(2*20./12/25)
	reference.Agrees(t, 12, math.Erfc(z/math.Sqrt2), got.P)
	assert.InDelta(t, 1.5, got.Shift, 1e-12, "of -1 1 1 1 2 2 3 3")
	assert.Equal(t, [2]int{4, 4}, [2]int{got.N1, got.N2})
	assert.True(t, got.Shifts.Contains(got.Shift))

	_, err = VanElteren([]Stratum{{nil, []float64{1}}}, 0.95)
	assert.ErrorIs(t, err, ErrNoStratum)
	same, err := VanElteren([]Stratum{{[]float64{3, 3}, []float64{3, 3}}}, 0.95)
	require.NoError(t, err)
	assert.InDelta(t, 1, same.P, 0)
	assert.Zero(t, same.Shift)
}

// With one stratum it is the rank test itself, near enough for the correction.
func TestVanElterenOfOneStratum(t *testing.T) {
	source := rand.New(rand.NewPCG(3, 5))
	x, y := make([]float64, 80), make([]float64, 60)
	for i := range x {
		x[i] = source.NormFloat64() + 0.4
	}
	for i := range y {
		y[i] = source.NormFloat64()
	}
	one, err := MannWhitney(x, y, 0.95)
	require.NoError(t, err)
	got, err := VanElteren([]Stratum{{x, y}}, 0.95)
	require.NoError(t, err)
	reference.Agrees(t, 10, one.P, got.P)
	assert.InDelta(t, one.Shift, got.Shift, 1e-9)
	assert.InDelta(t, one.Shifts.Low, got.Shifts.Low, 0.02)
	assert.InDelta(t, one.Shifts.High, got.Shifts.High, 0.02)
}

// Two groups that are alike within strata which differ, and are in them unequally often: called
// different as seldom as is said. The interval holds the shift that there is.
func TestClaimOfStrata(t *testing.T) {
	source := rand.New(rand.NewPCG(47, 0))
	for _, c := range [][][2]int{{{40, 5}, {5, 40}}, {{3, 4}, {5, 2}, {2, 6}, {4, 4}}, {{100, 20}, {10, 10}, {30, 90}}} {
		called, held, pooled, cases := 0, 0, 0, reference.Cases(1500)
		for range cases {
			var strata, moved []Stratum
			var all Stratum
			for level, n := range c {
				var s, m Stratum
				for range n[0] {
					v := 60 + 5*float64(level) + source.ExpFloat64()
					s.X, m.X = append(s.X, v), append(m.X, v+0.7)
				}
				for range n[1] {
					v := 60 + 5*float64(level) + source.ExpFloat64()
					s.Y, m.Y = append(s.Y, v), append(m.Y, v)
				}
				strata, moved = append(strata, s), append(moved, m)
				all.X, all.Y = append(all.X, s.X...), append(all.Y, s.Y...)
			}
			got, err := VanElteren(strata, 0.95)
			require.NoError(t, err)
			if got.P < 0.05 {
				called++
			}
			one, err := MannWhitney(all.X, all.Y, 0.95)
			require.NoError(t, err)
			if one.P < 0.05 {
				pooled++
			}
			got, err = VanElteren(moved, 0.95)
			require.NoError(t, err)
			if got.Shifts.Contains(0.7) {
				held++
			}
		}
		t.Logf("all together would be called different in %.3f", float64(pooled)/float64(cases))
		reference.AtMost(t, 0.05, called, cases, "called different", c)
		reference.AtLeast(t, 0.95, held, cases, "the shift lies in its interval", c)
	}
}
