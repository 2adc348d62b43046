package decide_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"padjig/sequence/decide"
)

func TestDecide(t *testing.T) {
	limit := decide.Between(5, 200)
	for _, c := range []struct {
		reading, w float64
		want       decide.Decision
	}{
		{100, 1, decide.Accepted},
		{199, 1, decide.Accepted},
		{199.001, 1, decide.Doubtful},
		{200, 1, decide.Doubtful},
		{200.001, 1, decide.Rejected},
		{6, 1, decide.Accepted},
		{5.999, 1, decide.Doubtful},
		{4.999, 1, decide.Rejected},
		{200, 0, decide.Accepted},
		{200.001, 0, decide.Rejected},
		{201, -1, decide.Accepted},
		{201.001, -1, decide.Rejected},
		{100, 98, decide.Doubtful},
		{math.Inf(1), 1, decide.Rejected},
		{math.NaN(), 0, decide.Rejected},
	} {
		assert.Equal(t, c.want, decide.Decide(c.reading, limit, limit.Guarded(c.w)), "%+v", c)
	}
	assert.Equal(t, decide.Accepted, decide.Decide(-1e300, decide.AtMost(5), decide.AtMost(5)))
	assert.Equal(t, decide.Accepted, decide.Decide(1e300, decide.AtLeast(5), decide.AtLeast(5)))
}

// A band for a risk leaves just that risk, whatever the spread and however
// many limits, and none is found only where even the middle carries more.
func TestBandForRiskProperty(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		u := rapid.Float64Range(0.01, 10).Draw(r, "u")
		s := rapid.SampledFrom([]decide.Spread{decide.Normal(u), decide.FewReadings(u, 4),
			decide.FewReadings(u, 1.5), decide.Rectangular(u)}).Draw(r, "spread")
		risk := rapid.Float64Range(1e-6, 0.49).Draw(r, "risk")
		low := rapid.Float64Range(-50, 50).Draw(r, "low")
		tolerance := rapid.SampledFrom([]decide.Interval{decide.AtLeast(low), decide.AtMost(low),
			decide.Between(low, low+20*u), decide.Between(low, low+2*u)}).Draw(r, "tolerance")
		w, ok := decide.BandForRisk(risk, tolerance, s)
		if !ok {
			middle := (tolerance.Low + tolerance.High) / 2
			require.Greater(r, decide.ConsumersRisk(middle, tolerance, s), risk*(1-1e-9))
			return
		}
		edge := tolerance.Guarded(w)
		at := edge.High
		if math.IsInf(at, 0) {
			at = edge.Low
		}
		require.LessOrEqual(r, edge.Low, edge.High+1e-9)
		require.InEpsilon(r, risk, decide.ConsumersRisk(at, tolerance, s), 1e-6)
	})
}

func TestTooNarrowForTheRisk(t *testing.T) {
	_, ok := decide.BandForRisk(0.01, decide.Between(0, 4), decide.Normal(1))
	assert.False(t, ok, "the middle is 2 u from either limit: 4.55 %")
	w, ok := decide.BandForRisk(0.046, decide.Between(0, 4), decide.Normal(1))
	assert.True(t, ok)
	assert.Less(t, w, 2.0)
	assert.Greater(t, w, decide.MultipleForRisk(0.046)*2, "the far limit costs something")
}

func TestRiskAndMultipleUndoEachOther(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		risk := rapid.Float64Range(1e-9, 1-1e-9).Draw(r, "risk")
		require.InEpsilon(r, risk, decide.RiskOfMultiple(decide.MultipleForRisk(risk)), 1e-9)
	})
}

// For a normal process read with a normal error the readings are normal too, so
// that the accepted part is known in closed form: the bad ones accepted, and
// the good ones less those rejected.
func TestGlobalRisksAddUpProperty(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		sd := rapid.Float64Range(0.01, 10).Draw(r, "sd")
		u := sd * math.Pow(10, rapid.Float64Range(-4, 2).Draw(r, "log u/sd"))
		process := distuv.Normal{Mu: rapid.Float64Range(-5, 5).Draw(r, "mean"), Sigma: sd}
		low := rapid.Float64Range(-30, 30).Draw(r, "low")
		tolerance := rapid.SampledFrom([]decide.Interval{decide.AtMost(low), decide.AtLeast(low),
			decide.Between(low, low+3*sd)}).Draw(r, "tolerance")
		acceptance := tolerance.Guarded(rapid.Float64Range(-2, 2).Draw(r, "w/u") * u)
		risks := decide.Global(process, tolerance, acceptance, decide.Normal(u))
		readings := distuv.Normal{Mu: process.Mu, Sigma: math.Hypot(sd, u)}
		accepted := decide.Conforming(readings, acceptance)
		require.InDelta(r, accepted, decide.Conforming(process, tolerance)-risks.Producer+risks.Consumer, 1e-11)
		require.GreaterOrEqual(r, risks.Consumer, 0.0)
		require.GreaterOrEqual(r, risks.Producer, -1e-15)
	})
}

// Processes and spreads that are not smooth, counted.
func TestGlobalAgainstCounting(t *testing.T) {
	const n = 50_000
	rnd := rand.New(rand.NewPCG(5, 0))
	type named struct {
		name      string
		process   decide.Process
		spread    decide.Spread
		tolerance decide.Interval
	}
	for _, c := range []named{
		{"uniform, rectangular", distuv.Uniform{Min: 90, Max: 110}, decide.Rectangular(1), decide.AtMost(105)},
		{"exponential, t of 3", distuv.Exponential{Rate: 0.1}, decide.FewReadings(1, 3), decide.Between(2, 20)},
		{"log-normal, normal", distuv.LogNormal{Mu: 4, Sigma: 0.3}, decide.Normal(4), decide.AtMost(80)},
		{"triangle, normal", distuv.NewTriangle(0, 10, 2, nil), decide.Normal(0.5), decide.AtLeast(1)},
	} {
		acceptance := c.tolerance.Guarded(0.3)
		var counted decide.Risks
		for range n {
			y := c.process.Quantile(rnd.Float64())
			accepted, good := acceptance.Contains(y+c.spread.Quantile(rnd.Float64())), c.tolerance.Contains(y)
			if accepted && !good {
				counted.Consumer += 1.0 / n
			}
			if good && !accepted {
				counted.Producer += 1.0 / n
			}
		}
		want := decide.Global(c.process, c.tolerance, acceptance, c.spread)
		t.Logf("%s: computed %.5f, counted %.5f of %d", c.name, want, counted, n)
		assert.InDelta(t, want.Consumer, counted.Consumer, 4*math.Sqrt(want.Consumer/n), c.name)
		assert.InDelta(t, want.Producer, counted.Producer, 4*math.Sqrt(want.Producer/n), c.name)
	}
}

// The acceptance limit for a target keeps it, whatever the process.
func TestGlobalBandProperty(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		process := rapid.SampledFrom([]decide.Process{distuv.UnitNormal, distuv.Gamma{Alpha: 4, Beta: 4},
			distuv.Uniform{Min: -3, Max: 3}}).Draw(r, "process")
		s := decide.Normal(rapid.Float64Range(0.05, 1).Draw(r, "u"))
		tolerance := rapid.SampledFrom([]decide.Interval{decide.AtMost(1.5), decide.AtLeast(0.4),
			decide.Between(-0.5, 1.5)}).Draw(r, "tolerance")
		target := (1 - decide.Conforming(process, tolerance)) * rapid.Float64Range(0.001, 0.9).Draw(r, "part")
		w, err := decide.GlobalBand(target, process, tolerance, s)
		require.NoError(r, err)
		require.InEpsilon(r, target, decide.Global(process, tolerance, tolerance.Guarded(w), s).Consumer, 1e-6)
	})
}

func TestGlobalBandRefuses(t *testing.T) {
	for _, target := range []float64{0, -1, 0.5, 1, math.NaN()} {
		_, err := decide.GlobalBand(target, distuv.UnitNormal, decide.AtMost(2), decide.Normal(0.1))
		assert.ErrorContains(t, err, "must lie between 0 and 0.02275", target)
	}
}
