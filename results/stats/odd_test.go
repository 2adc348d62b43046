package stats_test

import (
	"math"
	"testing"

	"padjig/results/stats"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"padjig/results/stats/capability"
	"padjig/results/stats/compare"
	"padjig/results/stats/control"
	"padjig/results/stats/gauge"
	"padjig/results/stats/interval"
	"padjig/results/stats/sampling"
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
		spec := capability.Spec{Lower: a, Upper: b}
		for name, f := range map[string]func(){
			"summary": func() {
				_, _ = stats.Summarize(x)
				stats.MeanIntervalOf(a, b, n, c)
			},
			"quantile": func() { _, _ = stats.Quantile(x, a); _, _ = stats.NewHistogram(x, n) },
			"shares": func() {
				_, _ = interval.Wilson(n, m, a)
				_, _ = interval.ClopperPearson(n, m, a)
				_, _ = interval.CountInterval(n, a)
			},
			"individual": func() {
				i, _ := control.NewIndividuals(x)
				_ = i.Limits()
				_ = i.Standardize(y)
				_ = control.MovingRanges(x)
			},
			"subgroups": func() {
				g, _ := control.NewXbarR(groups)
				_ = g.Limits(n)
				_, _ = g.SpreadLimits(n)
				_, _ = control.NewXbarS(groups)
			},
			"memory": func() {
				_, _ = control.EWMA{Target: a, Sigma: b, Lambda: c, L: a, Widening: true}.Values(x)
				_, _ = control.Cusum{Target: a, K: b, H: c}.Points(x)
			},
			"rules": func() { control.Rules(control.AllRules()).Flags(x) },
			"capability": func() {
				_, _ = capability.New(x, stats.Sigma{Value: a, DF: b}, spec)
				capability.CpInterval(a, b, c)
				capability.CpkInterval(a, n, b, c)
			},
			"normality":  func() { _, _ = capability.AndersonDarling(x); _, _, _ = capability.ProbabilityPlot(x) },
			"percentile": func() { _, _ = capability.PercentileCapability(x, spec, c) },
			"tables": func() {
				_, _ = compare.Fisher(compare.Table2{{n, m}, {m, 3}}, a)
				_, _ = compare.ChiSquare([][]int{{n, m}, {m, n}})
			},
			"strata": func() {
				_, _ = compare.CochranMantelHaenszel([]compare.Table2{{{n, m}, {m, n}}}, a)
				_, _, _ = compare.ShareDifference(n, m, m, n, a)
			},
			"ranks": func() {
				_, _ = compare.MannWhitney(x, y, a)
				_, _ = compare.KolmogorovSmirnov(x, y)
			},
			"tolerance": func() {
				_, _ = interval.NormalTolerance(x, interval.BothSides, a, b)
				_, _ = interval.NonparametricTolerance(x, interval.OnlyUpper, a, b)
			},
			"sampling": func() {
				_, _ = sampling.Risks{Good: a, Producer: b, Bad: c, Consumer: a}.Design()
				_ = sampling.Plan{N: n, Accept: m}.Check()
			},
			"retest": func() {
				_, _ = sampling.RetestPolicy{Tests: n}.Yield(sampling.TestErrors{FalseReject: a, FalseAccept: b, Sticks: c}, a)
			},
			"gauge": func() {
				_, _ = gauge.NewCrossed([][][]float64{groups, groups})
				_, _ = gauge.PlanStudy(n, m, n, 1)
			},
			"line": func() { _, _ = gauge.FitLine(x, y, a); _, _ = gauge.NewBias(x, a, b); _, _ = gauge.Linearity(x, y, c) },
			"many": func() { compare.Holm(x); compare.BenjaminiHochberg(x) },
		} {
			assert.NotPanics(t, f, name)
		}
	})
}
