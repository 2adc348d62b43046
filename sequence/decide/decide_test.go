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
