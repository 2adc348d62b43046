package control

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats/numeric"
	"padjig/results/stats/reference"
)

// Of independent values the two panels signal independently: by hand, a mean beyond 3 sigma in
// 0.0027, and s beyond its limits by chi-square. What is simulated is near; the mean of rules and
// panels together, and of moving averages and sums, near what their equations say.
func TestWatchedAgainstEquations(t *testing.T) {
	base := Subgrouped{Spread: BySD, Sigma: 1}
	l, err := base.SpreadLimits(5)
	assert.NoError(t, err)
	law := distuv.ChiSquared{K: 4}
	spread := law.CDF(4*l.Lower*l.Lower) + 1 - law.CDF(4*l.Upper*l.Upper)
	mean := 2 * numeric.UpperTail(3)
	near := func(want float64, w Watched, shift float64) {
		t.Helper()
		w.exact = nil
		got := w.RunLength(shift)
		assert.InDelta(t, want, got.Mean, 4*got.StandardError, "%v, shift %v", want, shift)
	}
	near(1/(1-(1-spread)*(1-mean)), WatchSubgroups([]int{5, 5, 5}, BySD, OnlyLimits), 0)
	near(1/(1-(1-spread)*(1-numeric.UpperTail(2)-numeric.UpperTail(4))), WatchSubgroups([]int{5}, BySD, OnlyLimits), 1)
	e := EWMA{Lambda: 0.2, L: 2.962, Sigma: 1, Widening: true}
	near(e.RunLength(0), WatchEWMA(e), 0)
	near(CusumRunLength(0.5, 4, 1), WatchCusum(0.5, 4), 1)
	assert.InDelta(t, CusumRunLength(0.5, 4, 0), WatchCusum(0.5, 4).RunLength(0).Mean, 1e-9, "which is taken")

	// A count of 1 in 20, by hand: beyond 3 sigma from 4 on, and never below.
	b := Proportions{Share: 0.05}
	beyond := 0.0
	for _, p := range numeric.BinomialLaw(20, 0.05)[4:] {
		beyond += p
	}
	near(1/beyond, WatchProportions(b, []int{20}, OnlyLimits), 0)
	r := Rates{Rate: 0.06}
	beyond = 0
	for _, p := range numeric.PoissonLaw(1.2)[5:] {
		beyond += p
	}
	near(1/beyond, WatchRates(r, []int{20, 20}, OnlyLimits), 0)
	assert.True(t, math.IsInf(WatchProportions(b, []int{1}, Rules{EightOut1}).RunLength(0).Mean, 1), "never seen")
}

// Neighbours that go together: by hand for three values, and of an autoregression its own.
func TestNeighbours(t *testing.T) {
	r, chance := Lag1([]float64{1, 2, 4}) // from 7/3: -4/3, -1/3, 5/3
	reference.Agrees(t, 12, (4./9-5./9)/(16./9+1./9+25./9), r)
	reference.Agrees(t, 12, 1.959963984540054/math.Sqrt(3), chance)
	r, _ = Lag1([]float64{1, 1, 1})
	assert.True(t, math.IsNaN(r))

	source := rand.New(rand.NewPCG(3, 1))
	beyond, cases := 0, 1000
	for range cases {
		next := autoregression(source, 0)
		values := make([]float64, 200)
		for i := range values {
			values[i] = next()
		}
		if r, chance := Lag1(values); math.Abs(r) > chance {
			beyond++
		}
	}
	reference.Exactly(t, 0.05, beyond, cases, "independent, and called dependent")
	next := autoregression(source, 0.4)
	values := make([]float64, 20000)
	for i := range values {
		values[i] = next()
	}
	r, _ = Lag1(values)
	assert.InDelta(t, 0.4, r, 0.03)
}

// A spread is outside its limits or not whichever way it is decided, also where it lies on a limit or next to one, and where
// values are all alike or far from 0.
func TestSpreadsOutsideTheirLimits(t *testing.T) {
	source := rand.New(rand.NewPCG(7, 1))
	for range 20_000 {
		group := make([]float64, 2+source.IntN(12))
		off := math.Pow(10, float64(source.IntN(9)))
		for i := range group {
			group[i] = off + source.NormFloat64()*float64(source.IntN(3))
		}
		for _, by := range []Spread{BySD, ByRange} {
			at := by.Of(group)
			for _, l := range []Limits{{Lower: at, Upper: at}, {Lower: 0, Upper: math.Nextafter(at, 0)}, {Lower: math.Nextafter(at, 9), Upper: at + 1}, {Upper: 2}, {Lower: 0.5, Upper: 1.5}} {
				assert.Equal(t, l.Out(at), by.out(group, l), "%v in %v of %v", at, l, group)
			}
		}
	}
}
