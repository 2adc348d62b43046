package capability

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
	"padjig/results/stats/reference"
)

// limitOf reads a limit that may be left out.
func limitOf(t *testing.T, r reference.Row, column string, absent float64) float64 {
	if r[column] == "" {
		return absent
	}
	return r.Num(t, column)
}

// Source: computed beside published examples (e-Handbook 6.1.6; Montgomery; a
// trade magazine of 2000): see the source column.
func TestCapabilityReference(t *testing.T) {
	for _, r := range reference.Table(t, "capability/capability_ci.csv") {
		spec := Spec{Lower: limitOf(t, r, "lsl", math.Inf(-1)), Upper: limitOf(t, r, "usl", math.Inf(1))}
		mean, sd, conf := r.Num(t, "mean"), r.Num(t, "sd"), r.Num(t, "conf")
		i, err := NewIndices(mean, sd, spec)
		require.NoError(t, err)
		hold := func(column string, digits, got float64) {
			if r[column] != "" {
				reference.Agrees(t, digits, r.Num(t, column), got, r["case"], column)
			}
		}
		hold("Cp", 14, i.P)
		hold("Cpu", 14, i.PU)
		hold("Cpl", 14, i.PL)
		hold("Cpk", 14, i.PK)
		hold("expected_ppm_normal", 11, ExpectedPPM(mean, sd, spec))
		if r["n"] == "" {
			continue
		}
		n := r.Whole(t, "n")
		df := float64(n - 1)
		cp := CpInterval(i.P, df, conf)
		hold("Cp_lo", 12, cp.Low)
		hold("Cp_hi", 12, cp.High)
		cpk := CpkInterval(i.PK, n, df, conf)
		hold("Cpk_lo_bissell", 13, cpk.Low)
		hold("Cpk_hi_bissell", 13, cpk.High)
	}
}

func TestCapabilityWithinAndOverall(t *testing.T) {
	groups := [][]float64{{39, 41}, {44, 46}, {49, 51}}
	within, err := WithinSubgroups(groups)
	require.NoError(t, err)
	assert.Equal(t, stats.Sigma{Value: math.Sqrt2, DF: 3}, within)
	c, err := New(slices.Concat(groups...), within, Spec{Lower: 40, Upper: 60})
	require.NoError(t, err)
	reference.Agrees(t, 14, 20/(6*math.Sqrt2), c.C.P)
	reference.Agrees(t, 14, 5/(3*math.Sqrt2), c.C.PK)
	reference.Agrees(t, 14, 20/(6*math.Sqrt(106.0/5)), c.P.P)
	assert.Less(t, c.P.PK, c.C.PK, "levels wander, so it did less than it could")
	assert.Equal(t, 1, c.ObservedOut)

	one, err := NewIndices(45, 1, AtMost(60))
	require.NoError(t, err)
	assert.True(t, math.IsNaN(one.P) && math.IsNaN(one.PL))
	reference.Agrees(t, 15, 5, one.PK)
}

func TestCapabilityThatHasNoAnswer(t *testing.T) {
	_, err := NewIndices(1, 1, Spec{Lower: math.Inf(-1), Upper: math.Inf(1)})
	assert.ErrorContains(t, err, "no limit on either side")
	_, err = NewIndices(1, 1, Spec{Lower: 3, Upper: 2})
	assert.ErrorContains(t, err, "not below")
	_, err = NewIndices(1, 0, AtMost(3))
	assert.ErrorIs(t, err, stats.ErrNoSpread)
	_, err = New([]float64{1}, stats.Sigma{Value: 1, DF: 1}, AtMost(3))
	assert.EqualError(t, err, "1 value where at least 2 are needed")
	_, err = WithinSubgroups([][]float64{{1}, {2}})
	assert.ErrorContains(t, err, "one value")
	_, err = AndersonDarling([]float64{1, 2, 3})
	assert.EqualError(t, err, "3 values where at least 8 are needed")
	_, err = AndersonDarling(make([]float64, 9))
	assert.ErrorIs(t, err, stats.ErrNoSpread)
	_, err = PercentileCapability(make([]float64, 3000), AtMost(3), 0.95)
	assert.ErrorIs(t, err, stats.ErrNoSpread)
}

// The statistic from outside: A2 is n times the integral of (Fn - F)^2 /
// (F (1-F)) dF, here piece by piece in closed form.
func TestAndersonDarlingIsTheIntegral(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.SliceOfNDistinct(rapid.Float64Range(-3, 3), 8, 40, func(x float64) float64 { return math.Round(x * 1e6) }).Draw(t, "y")
		got, err := AndersonDarling(y)
		require.NoError(t, err)
		s, err := stats.Summarize(y)
		require.NoError(t, err)
		slices.Sort(y)
		u := []float64{0}
		for _, v := range y {
			u = append(u, 1-numeric.UpperTail((v-s.Mean)/s.SD))
		}
		u = append(u, 1)
		n := float64(len(y))
		// (c-u)^2/(u(1-u)) = c^2/u + (1-c)^2/(1-u) - 1, integrated.
		total := 0.0
		for i := range len(y) + 1 {
			c := float64(i) / n
			a, b := u[i], u[i+1]
			total -= b - a
			if i > 0 {
				total += c * c * math.Log(b/a)
			}
			if i < len(y) {
				total += (1 - c) * (1 - c) * math.Log((1-a)/(1-b))
			}
		}
		assert.InDelta(t, n*total, got.A2, 1e-6*(1+got.A2))
	})
}

// The p-value's promise: normal samples fall below p as often as p says. 8000
// samples of 20; the table is good to 0.002, the binomial error adds 0.006.
func TestAndersonDarlingPUnderNormality(t *testing.T) {
	source := rand.New(rand.NewPCG(13, 0))
	const samples = 8000
	counts := map[float64]int{0.01: 0, 0.05: 0, 0.1: 0, 0.5: 0}
	for range samples {
		y := make([]float64, 20)
		for i := range y {
			y[i] = 40 + 3*source.NormFloat64()
		}
		n, err := AndersonDarling(y)
		require.NoError(t, err)
		for p := range counts {
			if n.P <= p {
				counts[p]++
			}
		}
	}
	for p, count := range counts {
		assert.InDelta(t, p, float64(count)/samples, 0.002+4*math.Sqrt(p*(1-p)/samples), p)
	}
}

func TestAndersonDarlingSeesWhatIsNotNormal(t *testing.T) {
	source := rand.New(rand.NewPCG(17, 0))
	y := make([]float64, 60)
	for i := range y {
		y[i] = source.ExpFloat64()
	}
	n, err := AndersonDarling(y)
	require.NoError(t, err)
	assert.Less(t, n.P, 0.001)
	_, r, err := ProbabilityPlot(y)
	require.NoError(t, err)
	assert.Less(t, r, 0.95)
}

func TestProbabilityPlotOfNormalQuantilesIsALine(t *testing.T) {
	y := make([]float64, 25)
	for i := range y {
		y[len(y)-1-i] = 40 + 2*distuv.UnitNormal.Quantile(orderMedian(i+1, 25))
	}
	points, r, err := ProbabilityPlot(y)
	require.NoError(t, err)
	reference.Agrees(t, 14, 1, r)
	reference.Agrees(t, 13, 40+2*points[3].Quantile, points[3].Value)
	assert.InDelta(t, 0, points[12].Quantile, 1e-12)
}

func TestPercentileCapability(t *testing.T) {
	// 0..4000 evenly: the outer points are 5.4 and 3994.6, the middle 2000.
	y := make([]float64, 4001)
	for i := range y {
		y[i] = float64(i)
	}
	p, err := PercentileCapability(y, Spec{Lower: -500, Upper: 4500}, 0.95)
	require.NoError(t, err)
	assert.InDelta(t, 5.3996, p.Low, 1e-4)
	assert.InDelta(t, 3994.6004, p.High, 1e-4)
	reference.Agrees(t, 12, 5000/(p.High-p.Low), p.P.P)
	reference.Agrees(t, 12, 2500/(p.High-2000), p.P.PK)
	assert.True(t, p.PpkInterval.Contains(p.P.PK))
	mirror, err := PercentileCapability(y, Spec{Lower: -500, Upper: math.Inf(1)}, 0.95)
	require.NoError(t, err)
	one, err := PercentileCapability(y, AtMost(4500), 0.95)
	require.NoError(t, err)
	reference.Agrees(t, 12, one.P.PU, mirror.P.PL, "evenly spread, both sides are alike")
	reference.Agrees(t, 12, one.PpkInterval.Low, mirror.PpkInterval.Low)
	assert.True(t, math.IsNaN(one.P.P) && math.IsNaN(one.P.PL) && math.IsNaN(mirror.P.PU))
	out, err := PercentileCapability(y, AtMost(1500), 0.95)
	require.NoError(t, err)
	assert.Negative(t, out.P.PK, "the middle lies beyond the limit")
	assert.True(t, out.PpkInterval.Contains(out.P.PK))

	// Of n values the largest is above the 99.865 % point but for 0.99865^n, which is 0.02 at 2897.
	for spec, want := range map[Spec]int{AtMost(1): 2897, {Lower: 0, Upper: 1}: 3410} {
		need, err := PercentileSampleSize(spec, 0.95)
		require.NoError(t, err)
		assert.Equal(t, want, need)
		risk := 0.02
		if spec.TwoSided() {
			risk = 0.01
		}
		assert.LessOrEqual(t, math.Pow(outerHigh, float64(need)), risk)
		assert.Greater(t, math.Pow(outerHigh, float64(need-1)), risk)
	}
	few := new(stats.TooFewError)
	_, err = PercentileCapability(y[:500], AtMost(100), 0.95)
	assert.ErrorAs(t, err, &few)
}

// skewed are distributions that contacts have: by their quantiles, from which the index that
// they have is known.
var skewed = []struct {
	name     string
	quantile func(float64) float64
}{
	{"lognormal", func(p float64) float64 { return math.Exp(0.5 * distuv.UnitNormal.Quantile(p)) }},
	{"exponential", func(p float64) float64 { return -math.Log1p(-p) }},
	{"even", func(p float64) float64 { return p }},
	{"two levels", func(p float64) float64 {
		if p < 0.97 {
			return p / 0.97
		}
		return 2 + (p-0.97)/0.03
	}},
	{"steps", func(p float64) float64 { return math.Floor(20 * math.Pow(p, 3)) }},
}

// The interval holds the index that the distribution has, at least as often as it says, from
// the least number of values on; with fewer there is none.
func TestClaimOfPercentiles(t *testing.T) {
	source := rand.New(rand.NewPCG(23, 0))
	for _, law := range skewed {
		spec := AtMost(law.quantile(0.5) + 1.5*(law.quantile(outerHigh)-law.quantile(0.5)))
		need, err := PercentileSampleSize(spec, 0.95)
		require.NoError(t, err)
		for _, n := range []int{100, 500, need} {
			held, given, cases := 0, 0, reference.Cases(300)
			for range cases {
				y := make([]float64, n)
				for i := range y {
					y[i] = law.quantile(source.Float64())
				}
				p, err := PercentileCapability(y, spec, 0.95)
				if err != nil {
					continue
				}
				given++
				if p.PpkInterval.Contains(1.5) {
					held++
				}
			}
			if n < need {
				assert.Zero(t, given, "%s, %d values", law.name, n)
				continue
			}
			assert.Equal(t, cases, given)
			reference.AtLeast(t, 0.95, held, given, law.name, n)
		}
	}
}
