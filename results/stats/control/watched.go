package control

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"padjig/results/stats/numeric"
)

// Lag1 is the autocorrelation of neighbours, and how far from 0 chance alone takes it in 19 of
// 20 lists without any (Bartlett 1946; e-Handbook 1.3.3.1: 1.96/sqrt(n)). A level that moves shows in it
// as well. Both are NaN without two different values.
func Lag1(values []float64) (r, chance float64) {
	hi, lo := numeric.Center(values)
	d := numeric.Deviations(values, hi, lo)
	all := numeric.Sum(numeric.Squares(d))
	if len(values) < 3 || all == 0 {
		return math.NaN(), math.NaN()
	}
	products := make([]float64, len(d)-1)
	for i := range products {
		products[i] = d[i] * d[i+1]
	}
	return numeric.Sum(products) / all, numeric.TwoSided(0.95) / math.Sqrt(float64(len(d)))
}

// Watched is a chart as it is looked at: every panel that signals, over points as they come.
// Values are normal, and each goes with the one before it as strongly as Lag says (a first-order
// autoregression); the limits are those that such a process gives, and right.
type Watched struct {
	Lag    float64
	name   string  // of all that the design is made from
	size   float64 // values a point, on average
	design design
	exact  func(shift float64) float64 // of independent values, where there is an equation for it
}

// A design sets a chart up for values that go together with the lag, and lie shift sigmas of a
// point off the centre. What it gives begins anew, and that gives point after point, and
// whether it signals.
type design func(source *rand.Rand, lag, shift float64) func() func() bool

// How far a simulation goes: until so many alarms or so many values, whichever is first.
const (
	watchedAlarms = 2000
	watchedValues = 1_500_000
	watchedPoints = 300_000
)

// WatchSubgroups is a chart of means and spread over subgroups of these sizes, one after the
// other and over again.
func WatchSubgroups(sizes []int, by Spread, rules Rules) Watched {
	const largest, kinds = 100, 40 // beyond, a standardized chart is as good as one of these
	sizes = slices.Clone(sizes[:min(len(sizes), kinds)])
	for i, n := range sizes {
		sizes[i] = min(max(n, 2), largest)
	}
	if distinct := slices.Compact(slices.Sorted(slices.Values(sizes))); len(distinct) == 1 {
		sizes = distinct
	}
	return Watched{name: fmt.Sprint("subgroups ", sizes, by, rules), size: meanOf(sizes), design: func(source *rand.Rand, lag, shift float64) func() func() bool {
		base := Subgrouped{Spread: by, Sigma: 1}
		if lag != 0 { // what neighbours have in common is not in the spread within a subgroup
			base.Sigma = within(autoregression(source, lag), sizes, by)
		}
		spreads, roots, offs := make([]Limits, len(sizes)), make([]float64, len(sizes)), make([]float64, len(sizes))
		for i, n := range sizes {
			spreads[i], _ = base.SpreadLimits(n) // of two or more, which has them
			roots[i] = math.Sqrt(float64(n))
			offs[i] = shift * base.Sigma / roots[i]
		}
		var recent []float64
		group := make([]float64, slices.Max(sizes))
		return func() func() bool {
			next, i := autoregression(source, lag), -1
			recent = recent[:0]
			return func() bool {
				if i++; i == len(sizes) {
					i = 0
				}
				group := group[:sizes[i]]
				for k := range group {
					group[k] = next() + offs[i]
				}
				recent = lately(recent, numeric.Mean(group)*roots[i]/base.Sigma)
				return rules.signal(recent) || by.out(group, spreads[i])
			}
		}
	}}
}

// out reports whether the spread of a subgroup lies outside its limits. Nearly all lie so far inside that a sum that
// loses digits says it.
func (s Spread) out(group []float64, l Limits) bool {
	if s == BySD {
		var sum, squares float64
		for _, x := range group {
			sum += x
			squares += x * x
		}
		n := float64(len(group))
		variance := (squares - sum*sum/n) / (n - 1)
		room := 1e-9 * squares // far more than what is lost
		if variance-room > l.Lower*l.Lower && variance+room < l.Upper*l.Upper {
			return false
		}
	}
	return l.Out(s.Of(group))
}

func meanOf(sizes []int) float64 {
	sum := 0
	for _, n := range sizes {
		sum += n
	}
	return float64(sum) / float64(len(sizes))
}

// within is sigma within subgroups of dependent values, as a long baseline finds it.
func within(next func() float64, sizes []int, by Spread) float64 {
	var groups [][]float64
	for values := 0; values < 100_000; {
		g := make([]float64, sizes[len(groups)%len(sizes)])
		for i := range g {
			g[i] = next()
		}
		groups, values = append(groups, g), values+len(g)
	}
	b, err := newSubgrouped(groups, by)
	if err != nil {
		return 1
	}
	return b.Sigma
}

// WatchSingles is a chart of single values and of their moving ranges.
func WatchSingles(rules Rules) Watched {
	return Watched{name: fmt.Sprint("singles ", rules), size: 1, design: func(source *rand.Rand, lag, shift float64) func() func() bool {
		sigma := singleSigma(lag)
		ranges := Individuals{MeanMR: sigma * constantsOf[2]().D2, RangeD4: constantsOf[2]().R4}.RangeLimits()
		var recent []float64
		return func() func() bool {
			next, before := autoregression(source, lag), math.NaN()
			recent = recent[:0]
			return func() bool {
				x := next() + shift*sigma
				moving := math.Abs(x - before)
				before = x
				recent = lately(recent, x/sigma)
				return rules.signal(recent) || ranges.Out(moving)
			}
		}
	}}
}

// singleSigma is what moving ranges find of values of standard deviation 1: neighbours that go
// together differ by less.
func singleSigma(lag float64) float64 { return math.Sqrt(1 - lag) }

// WatchEWMA is a chart of a moving average.
func WatchEWMA(e EWMA) Watched {
	return Watched{name: fmt.Sprint("average ", e.Lambda, e.L, e.Widening), size: 1, exact: e.RunLength, design: func(source *rand.Rand, lag, shift float64) func() func() bool {
		e := EWMA{Sigma: singleSigma(lag), Lambda: e.Lambda, L: e.L, Widening: e.Widening}
		widest := e.Limits(math.MaxInt32)
		var widening []Limits // up to where they are as wide as they get
		limits := func(t int) Limits {
			for len(widening) < t {
				if last := len(widening); last > 0 && widening[last-1] == widest {
					return widest
				}
				widening = append(widening, e.Limits(len(widening)+1))
			}
			return widening[t-1]
		}
		return func() func() bool {
			next, z, t := autoregression(source, lag), 0.0, 0
			return func() bool {
				t++
				z = e.Lambda*(next()+shift*e.Sigma) + (1-e.Lambda)*z
				return limits(t).Out(z)
			}
		}
	}}
}

// WatchCusum is a pair of cumulative sums, allowance and limit in sigmas.
func WatchCusum(k, h float64) Watched {
	exact := func(shift float64) float64 { return CusumRunLength(k, h, shift) }
	return Watched{name: fmt.Sprint("sums ", k, " ", h), size: 1, exact: exact, design: func(source *rand.Rand, lag, shift float64) func() func() bool {
		sigma := singleSigma(lag)
		c := Cusum{K: k * sigma, H: h * sigma}
		return func() func() bool {
			next, at := autoregression(source, lag), CusumPoint{}
			return func() bool {
				at = c.next(at, next()+shift*sigma)
				return at.Signal
			}
		}
	}}
}

// WatchProportions is a chart of shares of samples of these sizes, one after the other and over
// again: a count comes in steps, and lies on one side of its mean more often than on the other.
func WatchProportions(b Proportions, sizes []int, rules Rules) Watched {
	law := func(n int, shift float64) []float64 {
		return numeric.BinomialLaw(n, min(1, max(0, b.Share+shift*b.sigma(float64(n)))))
	}
	return watchCounts(fmt.Sprint("shares ", b.Share), sizes, rules, law, func(count, n int) float64 {
		return (float64(count)/float64(n) - b.Share) / b.sigma(float64(n))
	})
}

// WatchRates is one of faults.
func WatchRates(b Rates, sizes []int, rules Rules) Watched {
	law := func(n int, shift float64) []float64 {
		return numeric.PoissonLaw(max(0, b.Rate+shift*b.sigma(float64(n))) * float64(n))
	}
	return watchCounts(fmt.Sprint("rates ", b.Rate), sizes, rules, law, func(count, n int) float64 {
		return (float64(count)/float64(n) - b.Rate) / b.sigma(float64(n))
	})
}

func watchCounts(name string, sizes []int, rules Rules, law func(n int, shift float64) []float64, z func(count, n int) float64) Watched {
	const kinds = 40
	sizes = sizes[:min(len(sizes), kinds)]
	if distinct := slices.Compact(slices.Sorted(slices.Values(sizes))); len(distinct) == 1 {
		sizes = distinct
	}
	return Watched{name: fmt.Sprint(name, " ", sizes, rules), size: 1, design: func(source *rand.Rand, lag, shift float64) func() func() bool {
		sums, standard := make([][]float64, len(sizes)), make([][]float64, len(sizes))
		for i, n := range sizes {
			sum := 0.0
			for count, p := range law(n, shift) {
				sum += p
				sums[i], standard[i] = append(sums[i], sum), append(standard[i], z(count, n))
			}
		}
		var recent []float64
		return func() func() bool {
			next, i := autoregression(source, lag), -1
			recent = recent[:0]
			return func() bool {
				if i++; i == len(sizes) {
					i = 0
				}
				count, _ := slices.BinarySearch(sums[i], 1-numeric.UpperTail(next()))
				recent = lately(recent, standard[i][min(count, len(sums[i])-1)])
				return rules.signal(recent)
			}
		}
	}}
}

// autoregression gives normal values of standard deviation 1, each with so much of the one
// before in it.
func autoregression(source *rand.Rand, lag float64) func() float64 {
	x, fresh := source.NormFloat64(), math.Sqrt(1-lag*lag)
	return func() float64 {
		x = lag*x + fresh*source.NormFloat64()
		return x
	}
}

// lately appends, and forgets what no rule looks at.
func lately(recent []float64, z float64) []float64 {
	if len(recent) >= 4*longestPattern {
		recent = append(recent[:0], recent[len(recent)-longestPattern:]...)
	}
	return append(recent, z)
}

func (s Rules) signal(recent []float64) bool {
	return slices.ContainsFunc(s, func(r Rule) bool { return r.completes(recent) })
}

// lag is what is reckoned with: a hundredth is finer than any list of values tells it.
func (w Watched) lag() float64 { return min(0.99, max(-0.99, math.Round(100*w.Lag)/100)) }

// Name says all that the run lengths depend on: charts of one name have the same.
func (w Watched) Name() string { return fmt.Sprint(w.name, " lag ", w.lag()) }

// RunLength is how many points the chart waits for its first signal on average, of a process
// whose mean lies shift sigmas of a point off the centre: simulated with a fixed seed, from an
// empty memory, or exact where there is an equation. Where signals are so rare that the simulation saw none, it is infinite.
func (w Watched) RunLength(shift float64) RunLength {
	lag := w.lag()
	if lag == 0 && w.exact != nil {
		return RunLength{Mean: w.exact(shift)}
	}
	start := w.design(rand.New(rand.NewPCG(1, 0)), lag, shift)
	alarms, points, most := 0, 0, min(watchedPoints, int(watchedValues/w.size))
	for alarms < watchedAlarms && points < most {
		for next, quiet := start(), true; quiet && points < most; points++ {
			quiet = !next()
			if !quiet {
				alarms++
			}
		}
	}
	length := RunLength{Mean: float64(points) / float64(alarms)}
	length.StandardError = length.Mean / math.Sqrt(float64(alarms))
	return length
}
