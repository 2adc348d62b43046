package stats

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// odd are numbers as they come by mistake: a confidence of 95, a df of 0.
func odd() *rapid.Generator[float64] {
	return rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, 1, -1, 0.95, 95, math.NaN(), math.Inf(1), math.Inf(-1), 1e-300, 1e300}))
}

// Whatever comes in, nothing panics: it is an error, a NaN or a number.
func TestOddInputNeverPanics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(odd(), 0, 12).Draw(t, "x")
		y := rapid.SliceOfN(odd(), 0, 12).Draw(t, "y")
		a, b, c := odd().Draw(t, "a"), odd().Draw(t, "b"), odd().Draw(t, "c")
		n := rapid.IntRange(-3, 60).Draw(t, "n")
		m := rapid.IntRange(-3, 60).Draw(t, "m")
		groups := [][]float64{x, y}
		spec := Spec{Lower: a, Upper: b}
		for name, f := range map[string]func(){
			"summary": func() {
				_, _ = Summarize(x)
				_, _ = MeanInterval(x, a)
				SDInterval(a, b, c)
				_, _ = Autocorrelation(x, n)
			},
			"quantile": func() { _, _ = Quantile(x, a); _, _ = NewHistogram(x, n) },
			"shares": func() {
				_, _ = Wilson(n, m, a)
				_, _ = ClopperPearson(n, m, a)
				_, _ = Jeffreys(n, m, a)
				_, _ = CountInterval(n, a)
			},
			"individual": func() { i, _ := NewIndividuals(x); _ = i.Limits(); _ = i.Standardize(y); _ = MovingRanges(x) },
			"subgroups":  func() { g, _ := NewXbarR(groups); _ = g.Limits(n); _, _ = g.SpreadLimits(n); _, _ = NewXbarS(groups) },
			"memory":     func() { _, _ = EWMA{a, b, c, a, true}.Values(x); _, _ = Cusum{a, b, c}.Points(x) },
			"rules":      func() { Rules(AllRules()).Flags(x) },
			"capability": func() {
				_, _ = NewCapability(x, Sigma{a, b}, spec)
				CpInterval(a, b, c)
				CpkInterval(a, n, b, c)
				CpLower(a, b, c)
				CpkLower(a, n, b, c)
			},
			"normality":  func() { _, _ = AndersonDarling(x); _, _, _ = ProbabilityPlot(x) },
			"percentile": func() { _, _ = PercentileCapability(x, spec, c, 100, 1) },
			"tables":     func() { _, _ = Fisher(Table2{{n, m}, {m, 3}}, a); _, _ = ChiSquare([][]int{{n, m}, {m, n}}) },
			"strata": func() {
				_, _ = CochranMantelHaenszel([]Table2{{{n, m}, {m, n}}}, a)
				_, _, _ = ShareDifference(n, m, m, n, a)
			},
			"ranks": func() { _, _ = MannWhitney(x, y, a); _, _ = KolmogorovSmirnov(x, y); _, _ = KruskalWallis(groups) },
			"means": func() {
				_, _ = WelchT(x, y, a)
				_, _ = PooledT(x, y, a)
				_, _ = OneWay(groups)
				_, _ = Bartlett(groups)
				_, _ = BrownForsythe(groups)
			},
			"tolerance": func() {
				_, _ = NormalTolerance(x, BothSides, a, b)
				_, _ = FreeTolerance(x, OnlyUpper, a, b)
				ToleranceFactorNatrella(n, a, b)
			},
			"sampling": func() { _, _ = Risks{a, b, c, a}.Design(); _, _ = Plan{n, m}.AcceptsLot(m, n) },
			"retest":   func() { _, _ = RetestPolicy{Tests: n}.Yield(TestErrors{a, b, c}, a) },
			"gauge": func() {
				_, _ = NewCrossed([][][]float64{groups, groups})
				_, _ = NewRangeStudy([][][]float64{groups, groups})
				_, _ = PlanStudy(n, m, n, 1)
			},
			"line": func() { _, _ = FitLine(x, y, a); _, _ = NewBias(x, a, b); _, _ = Linearity(x, y, c) },
			"many": func() { Holm(x); BenjaminiHochberg(x) },
		} {
			assert.NotPanics(t, f, name)
		}
	})
}
