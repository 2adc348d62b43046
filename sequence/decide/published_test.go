package decide_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"

	"padjig/sequence/decide"
)

// Worked examples. Each names where its numbers come from and how well:
//
//	seen      read in the source named
//	abstract  only an opening or a summary of the source was read
//	memory    not opened now; the arithmetic closes on the remembered answer
//	computed  worked out again by other means (R, plain arithmetic)
//
// The full text of JCGM 106:2012 could not be read; its examples come by way
// of public material that quotes it, named with each.

// The acceptance limit of w = multiple of U, and what a reading on it carries.
// Risks: computed; 2.28 % for 1 U agrees with "below 2.5 %" in a test house's
// statement of its decision rule (seen), 50 % for 0 with another's (seen). 0.83 U
// is ISO 14253-1:2017's default of 95 % conformance (memory, and weak summaries).
func TestRiskAtTheAcceptanceLimit(t *testing.T) {
	for _, c := range []struct{ multiple, risk, to float64 }{
		{0, 0.5, 1e-15},
		{0.5, 0.1587, 5e-5},
		{0.8225, 0.0500, 5e-5},
		{0.83, 0.0485, 5e-5},
		{1, 0.0228, 5e-5},
		{1.5, 0.00135, 5e-6},
		{3, 9.9e-10, 5e-12},
	} {
		const limit, u = 200, 0.05
		at := limit - decide.Band(c.multiple, u)
		assert.InDelta(t, c.risk, decide.ConsumersRisk(at, decide.AtMost(limit), decide.Normal(u)), c.to, c.multiple)
		assert.InDelta(t, c.risk, decide.RiskOfMultiple(c.multiple), c.to, c.multiple)
	}
}

// JCGM 106 Table 1, z for a one-sided conformance probability (abstract:
// documentation of the R package "propagate" 1.3; values computed).
func TestTable1(t *testing.T) {
	for p, z := range map[float64]float64{0.80: 0.84, 0.90: 1.28, 0.95: 1.64, 0.99: 2.33, 0.999: 3.09} {
		assert.InDelta(t, z, 2*decide.MultipleForRisk(1-p), 0.005, p)
	}
}

// U = 0.10 (k = 2): 5 % needs 0.0823, 2.3 % needs 0.10 (seen: public Rust tests on
// JCGM 106 guard bands; computed 0.08224, which they seem to have rounded up).
func TestBandOfAnExpandedUncertainty(t *testing.T) {
	assert.InDelta(t, 0.0823, decide.Band(decide.MultipleForRisk(0.05), 0.05), 1e-4)
	assert.InDelta(t, 0.10, decide.Band(decide.MultipleForRisk(0.023), 0.05), 5e-4)
}

// Four degrees of freedom: 1 % risk takes 3.75 u, not 2.33 u; a band of 4.5 u
// carries 5.4e-3, not 3.4e-6 (seen: public Lean module on conformity after JCGM
// 106; computed).
func TestFewReadings(t *testing.T) {
	assert.InDelta(t, 0.01, decide.ConsumersRisk(-3.75, decide.AtMost(0), decide.FewReadings(1, 4)), 5e-5)
	assert.InDelta(t, 0.01, decide.ConsumersRisk(-2.33, decide.AtMost(0), decide.Normal(1)), 2e-4)
	assert.InDelta(t, 5.4e-3, decide.ConsumersRisk(-4.5, decide.AtMost(0), decide.FewReadings(1, 4)), 5e-5)
	assert.InDelta(t, 3.4e-6, decide.ConsumersRisk(-4.5, decide.AtMost(0), decide.Normal(1)), 5e-8)
}

// Bounds only: k = sqrt(3) (1 - 2p), no risk at all from sqrt(3) u on (seen: the
// same module); 1.559 for 5 % (computed).
func TestRectangular(t *testing.T) {
	for _, p := range []float64{0.01, 0.05, 0.2, 0.5} {
		w := math.Sqrt(3) * (1 - 2*p)
		assert.InDelta(t, p, decide.ConsumersRisk(-w, decide.AtMost(0), decide.Rectangular(1)), 1e-12, p)
	}
	assert.InDelta(t, 0.05, decide.ConsumersRisk(-1.559, decide.AtMost(0), decide.Rectangular(1)), 2e-4)
	assert.Zero(t, decide.ConsumersRisk(-1.7320509, decide.AtMost(0), decide.Rectangular(1)))
}

// Costs 100 to 1: 0.99 %, which takes 2.33 u (seen: the same module; computed).
func TestBreakEven(t *testing.T) {
	const risk = 1. / (1 + 100) // what it costs to reject a good one, over the sum of both
	assert.InDelta(t, 0.0099, risk, 5e-6)
	assert.InDelta(t, 2.33, decide.Band(decide.MultipleForRisk(risk), 1), 0.005)
}

// Ball bearings, JCGM 106 9.5.4 (seen: a national laboratory's uncertainty
// calculator quotes it; computed to more digits). Radial error motion in um, at
// most 2; process gamma of mean 1, standard deviation 0.5; u = 0.25. The motion
// cannot be negative, but a reading can: it is accepted then.
func TestBallBearings(t *testing.T) {
	process, limit, s := distuv.Gamma{Alpha: 4, Beta: 4}, decide.AtMost(2), decide.Normal(0.25)
	assert.InDelta(t, 0.042, 1-decide.Conforming(process, limit), 5e-4, "seen")
	assert.InDelta(t, 0.04238, 1-decide.Conforming(process, limit), 5e-6, "computed")

	simple := decide.Global(process, limit, limit, s)
	assert.InDelta(t, 0.008, simple.Consumer, 5e-4, "seen")
	assert.InDelta(t, 0.00802, simple.Consumer, 5e-6, "computed")
	assert.InDelta(t, 0.01744, simple.Producer, 5e-6, "computed")

	guarded := decide.Global(process, limit, decide.AtMost(1.67183), s)
	assert.InDelta(t, 0.001, guarded.Consumer, 1e-7, "1.67 seen, the other digits computed")
	assert.InDelta(t, 0.0755, guarded.Producer, 5e-5, "computed")
}

// Precision resistors, JCGM 106 9.5 (inputs seen: two public Octave scripts that
// cite it; about 90 %, 1 % and 7 % memory; the digits and the family computed).
// 1500 ohm within 0.2; process normal, standard deviation 0.12; u = 0.04.
func TestPrecisionResistors(t *testing.T) {
	process := distuv.Normal{Mu: 1500, Sigma: 0.12}
	limits, s := decide.Between(1499.8, 1500.2), decide.Normal(0.04)
	assert.InDelta(t, 0.9044, decide.Conforming(process, limits), 5e-5)
	for _, c := range []struct{ w, consumer, producer float64 }{
		{0, 0.018942, 0.037208},
		{0.02, 0.009878, 0.069027},
		{0.04, 0.004334, 0.114657},
		{0.08, 0.000469, 0.247670},
		{-0.02, 0.031145, 0.017554},
		{-0.04, 0.044898, 0.007097},
		{-0.08, 0.069405, 0.000681},
	} {
		r := decide.Global(process, limits, limits.Guarded(c.w), s)
		assert.InDelta(t, c.consumer, r.Consumer, 6e-7, c.w)
		assert.InDelta(t, c.producer, r.Producer, 6e-7, c.w)
	}
}

// Conformance probabilities (inputs memory, answers closed by computing).
func TestConformance(t *testing.T) {
	for _, c := range []struct {
		name       string
		reading, u float64
		tolerance  decide.Interval
		want, to   float64
	}{
		{"breakdown of a Zener diode, V", -5.47, 0.05, decide.AtMost(-5.40), 0.91924, 5e-6},
		{"burst strength, kPa", 509.7, 8.6, decide.AtLeast(490), 0.98901, 5e-6},
		{"viscosity, mm2/s", 13.6, 1.8, decide.Between(12.5, 16.3), 0.66263, 5e-6},
	} {
		got := decide.Conformance(c.reading, c.tolerance, decide.Normal(c.u))
		assert.InDelta(t, c.want, got, c.to, c.name)
		assert.InDelta(t, 1-c.want, decide.ConsumersRisk(c.reading, c.tolerance, decide.Normal(c.u)), c.to, c.name)
	}
}

// Guarded rejection: a speed limit of 100 km/h, u = 2 % of the reading, 99.9 %
// certainty before anybody is fined: 106.6, stated as 107 km/h (memory; computed).
func TestSpeedLimit(t *testing.T) {
	limit := decide.AtMost(100)
	innocent := func(v float64) float64 { return decide.Conformance(v, limit, decide.Normal(0.02*v)) }
	assert.Greater(t, innocent(106.5), 0.001)
	assert.Less(t, innocent(106.6), 0.001)
	assert.Less(t, innocent(107), 0.001)

	w := decide.Band(decide.MultipleForRisk(0.999), 0.02*106.587)
	assert.InDelta(t, 106.6, limit.Guarded(w).High, 0.05, "a negative guard band")
}

// Process spread against that of the test, limits in standard deviations of the
// process (seen: Deaver, as quoted in the tests of a national laboratory's
// uncertainty calculator, to the digits of "quoted"; the others computed).
func TestTestUncertaintyRatio(t *testing.T) {
	for _, c := range []struct {
		limit, ratio, accepted float64
		quoted, computed       decide.Risks
	}{
		{2, 4, 1, decide.Risks{Consumer: 0.008, Producer: 0.015}, decide.Risks{Consumer: 0.0080, Producer: 0.0149}},
		{2.5, 4, 1, decide.Risks{Consumer: 0.0025}, decide.Risks{Consumer: 0.00245}},
		{2.5, 1, 1, decide.Risks{Consumer: 0.005}, decide.Risks{Consumer: 0.0047}},
		{2, 2, 0.91, decide.Risks{Consumer: 0.008, Producer: 0.066},
			decide.Risks{Consumer: 0.00805, Producer: 0.0661}},
	} {
		tolerance := decide.Between(-c.limit, c.limit)
		acceptance := decide.Between(-c.accepted*c.limit, c.accepted*c.limit)
		got := decide.Global(distuv.UnitNormal, tolerance, acceptance, decide.Normal(1/c.ratio))
		assert.InDelta(t, c.quoted.Consumer, got.Consumer, 5e-4, "%+v", c)
		assert.InDelta(t, c.computed.Consumer, got.Consumer, 5e-5, "%+v", c)
		if c.quoted.Producer > 0 {
			assert.InDelta(t, c.quoted.Producer, got.Producer, 5e-4, "%+v", c)
			assert.InDelta(t, c.computed.Producer, got.Producer, 5e-5, "%+v", c)
		}
	}
	limits := decide.Between(-8, 8)
	got := decide.Global(distuv.Normal{Sigma: 4}, limits, limits, decide.Normal(1))
	assert.InDelta(t, 0.0080, got.Consumer, 5e-5)
	assert.InDelta(t, 0.0149, got.Producer, 5e-5)
}
