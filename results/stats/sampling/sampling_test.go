package sampling

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/results/stats/numeric"
	"padjig/results/stats/reference"
)

type samplingReference struct {
	Designs []struct {
		P1, Alpha, P2, Beta float64
		N, C                int
		Good                reference.Number `json:"Pa_p1"`
		Bad                 reference.Number `json:"Pa_p2"`
	} `json:"two_point_design"`
	Sprt []struct {
		P1, P2, Alpha, Beta float64
		H1, H2, S           reference.Number
	}
	Table []struct {
		N              int
		Accept, Reject *int
	} `json:"sprt_table_p1_01_p2_10"`
	Exact []struct {
		P        float64
		Accepted reference.Number `json:"P_accept_exact"`
		Tested   reference.Number `json:"ASN_exact"`
	} `json:"sprt_exact"`
}

func readSampling(t *testing.T) samplingReference {
	var r samplingReference
	reference.JSON(t, "sampling/expected.json", &r)
	return r
}

// Source: computed; published columns e-Handbook 6.2.3.2 and Montgomery 15.2
// from memory, to a unit in their last place.
func TestOperatingCharacteristics(t *testing.T) {
	for _, r := range reference.Table(t, "sampling/oc_curves.csv") {
		plan, p := Plan{N: r.Whole(t, "n"), Accept: r.Whole(t, "c")}, r.Num(t, "p")
		reference.Agrees(t, 12, r.Num(t, "Pa_binomial"), plan.Accepts(p), r)
		quality, tested := ofProcess(plan, p, 10000)
		reference.Agrees(t, 10, r.Num(t, "AOQ_lot_10000"), quality, r)
		reference.Agrees(t, 10, r.Num(t, "ATI_lot_10000"), tested, r)
		if text := r["Pa_published"]; text != "" {
			reference.Printed(t, len(text)-2, 0.5, r.Num(t, "Pa_published"), plan.Accepts(p), r)
		}
	}
}

// ofProcess is what inspection makes of lots from a steady process, whose bad units differ
// from lot to lot as the binomial law has it: the average that tables print.
func ofProcess(p Plan, share float64, size int) (quality, tested float64) {
	for bad, chance := range numeric.BinomialLaw(size, share) {
		if chance > 1e-18 {
			of := p.Inspect(Lot{size, bad})
			quality, tested = quality+chance*of.Outgoing, tested+chance*of.Tested
		}
	}
	return quality, tested
}

// Source: computed for plans of ISO 2859-1 (normal inspection, single).
func TestOperatingCharacteristicsOfStandardPlans(t *testing.T) {
	chances := map[string]float64{"99": 0.99, "95": 0.95, "90": 0.90, "75": 0.75, "50": 0.50, "25": 0.25, "10": 0.10, "5": 0.05, "1": 0.01}
	for _, r := range reference.Table(t, "sampling/iso2859_normal_single.csv") {
		plan := Plan{N: r.Whole(t, "n"), Accept: r.Whole(t, "Ac")}
		require.NoError(t, plan.Check())
		reference.Agrees(t, 12, r.Num(t, "Pa_at_AQL_binomial"), plan.Accepts(r.Num(t, "aql_percent")/100), r)
		reference.Agrees(t, 9, r.Num(t, "producer_risk"), 1-plan.Accepts(r.Num(t, "aql_percent")/100), r)
		for name, chance := range chances {
			reference.Agrees(t, 9, r.Num(t, "p_percent_at_Pa_"+name), 100*plan.ShareAccepted(chance), name, r)
		}
	}
}

func TestTwoPointDesign(t *testing.T) {
	for _, r := range readSampling(t).Designs {
		plan, err := Risks{Good: r.P1, Producer: r.Alpha, Bad: r.P2, Consumer: r.Beta}.Design()
		require.NoError(t, err)
		assert.Equal(t, Plan{N: r.N, Accept: r.C}, plan)
		reference.Agrees(t, 12, float64(r.Good), plan.Accepts(r.P1))
		reference.Agrees(t, 12, float64(r.Bad), plan.Accepts(r.P2))
	}
	_, err := Risks{Good: 0.1, Producer: 0.6, Bad: 0.05, Consumer: 0.5}.Design()
	assert.ErrorContains(t, err, "must lie above 0 and below")
	assert.ErrorContains(t, err, "add up to less than 1", "every mistake at once")
	_, err = Risks{Good: 0.3, Producer: 0.01, Bad: 0.301, Consumer: 0.01}.Design()
	assert.ErrorContains(t, err, "too close")
}

// The design is the smallest: no plan with fewer units keeps both risks.
func TestTwoPointDesignIsSmallest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Risks{
			Good: rapid.Float64Range(0.005, 0.05).Draw(t, "good"), Producer: rapid.Float64Range(0.01, 0.2).Draw(t, "producer"),
			Bad: rapid.Float64Range(0.12, 0.4).Draw(t, "bad"), Consumer: rapid.Float64Range(0.01, 0.2).Draw(t, "consumer"),
		}
		plan, err := r.Design()
		require.NoError(t, err)
		keeps := func(p Plan) bool { return p.Accepts(r.Good) >= 1-r.Producer && p.Accepts(r.Bad) <= r.Consumer }
		assert.True(t, keeps(plan))
		for c := range plan.N - 1 {
			assert.False(t, keeps(Plan{N: plan.N - 1, Accept: c}))
		}
	})
}

// Source: AOQL values computed; e-Handbook 6.2.3.2, about 0.0372, from memory.
func TestWorstOutgoingQuality(t *testing.T) {
	var want struct {
		Plans []map[string]reference.Number `json:"aoql"`
	}
	reference.JSON(t, "sampling/expected.json", &want)
	require.Len(t, want.Plans, 3)
	for _, r := range want.Plans {
		plan, size := Plan{N: int(r["n"]), Accept: int(r["c"])}, int(r["N"])
		process, _ := ofProcess(plan, float64(r["p_at_AOQL"]), size)
		reference.Agrees(t, 10, float64(r["AOQL"]), process)
		limit, at := plan.WorstOutgoing(size)
		assert.Greater(t, limit, process, "of lots alike, the worst is worse than that of lots which differ")
		assert.InEpsilon(t, process, limit, 0.05)
		for bad := range size + 1 { // and there is none worse
			if of := plan.Inspect(Lot{size, bad}); of.Outgoing > limit {
				assert.Fail(t, "worse", "%d of %d: %v at %v", bad, size, of, at)
			}
		}
	}
}

// Source: Wald's formulas computed; table of e-Handbook 6.2.6.2; exact chances
// by walking through all counts.
func TestSequential(t *testing.T) {
	want := readSampling(t)
	for _, r := range want.Sprt {
		s, err := NewSequential(Risks{Good: r.P1, Producer: r.Alpha, Bad: r.P2, Consumer: r.Beta})
		require.NoError(t, err)
		reference.Agrees(t, 12, float64(r.H1), s.Below)
		reference.Agrees(t, 12, float64(r.H2), s.Above)
		reference.Agrees(t, 12, float64(r.S), s.Slope)
	}
	s, err := NewSequential(Risks{Good: 0.01, Producer: 0.05, Bad: 0.10, Consumer: 0.10})
	require.NoError(t, err)
	for _, r := range want.Table {
		accept, reject := s.At(r.N)
		assert.Equal(t, orMinus1(r.Accept), accept, "accept at %d", r.N)
		assert.Equal(t, orMinus1(r.Reject), reject, "reject at %d", r.N)
	}
	for _, r := range want.Exact {
		accepted, tested := s.Exact(r.P)
		reference.Agrees(t, 11, float64(r.Accepted), accepted, r.P)
		reference.Agrees(t, 11, float64(r.Tested), tested, r.P)
	}
	_, err = NewSequential(Risks{Good: 0.1, Bad: 0.1, Producer: 0.05, Consumer: 0.1})
	assert.Error(t, err)
}

func orMinus1(n *int) int {
	if n == nil {
		return -1
	}
	return *n
}

// By hand: a good unit passes 0.98, a bad one 0.1.
func TestRetestPolicies(t *testing.T) {
	e := TestErrors{FalseReject: 0.02, FalseAccept: 0.1}
	once, err := TestOnce.Yield(e, 0.05)
	require.NoError(t, err)
	reference.Agrees(t, 13, 0.95*0.98+0.05*0.1, once.Passed)
	reference.Agrees(t, 13, 0.005, once.Escapes)
	reference.Agrees(t, 13, 0.019, once.FalseScrap)
	reference.Agrees(t, 13, 0.02, once.ScrapOfGood)
	assert.Equal(t, 1.0, once.TestsPerUnit)

	reseat, err := ReseatOnce.Yield(e, 0.05)
	require.NoError(t, err)
	reference.Agrees(t, 12, 0.05*(1-0.9*0.9), reseat.Escapes)
	reference.Agrees(t, 12, 0.02*0.02, reseat.ScrapOfGood)
	reference.Agrees(t, 12, 1+0.95*0.02+0.05*0.9, reseat.TestsPerUnit)

	all, err := RetestPolicy{Tests: 3, AllPass: true}.Yield(e, 0.05)
	require.NoError(t, err)
	reference.Agrees(t, 12, 0.05*0.001, all.Escapes)
	reference.Agrees(t, 12, 1-math.Pow(0.98, 3), all.ScrapOfGood)

	stuck, err := RetestPolicy{Tests: 4}.Yield(TestErrors{FalseReject: 0.02, FalseAccept: 0.1, Sticks: 1}, 0.05)
	require.NoError(t, err)
	reference.Agrees(t, 12, once.Passed, stuck.Passed, "a repeat that only repeats is worthless")

	_, err = RetestPolicy{}.Yield(TestErrors{FalseReject: 2, FalseAccept: -1}, math.NaN())
	for _, words := range []string{"false rejects", "false accepts", "bad units", "0 tests"} {
		assert.ErrorContains(t, err, words)
	}
}

// More chances to pass let more through of either kind.
func TestRetestPoliciesAreOrdered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share := rapid.Float64Range(0, 1)
		e := TestErrors{FalseReject: share.Draw(t, "fr"), FalseAccept: share.Draw(t, "fa"), Sticks: share.Draw(t, "sticks")}
		bad := share.Draw(t, "bad")
		last, err := RetestPolicy{Tests: 4, AllPass: true}.Yield(e, bad)
		require.NoError(t, err)
		for _, p := range []RetestPolicy{{Tests: 2, AllPass: true}, {Tests: 1}, {Tests: 2}, {Tests: 4}} {
			now, err := p.Yield(e, bad)
			require.NoError(t, err)
			assert.GreaterOrEqual(t, now.Escapes, last.Escapes-1e-12)
			assert.LessOrEqual(t, now.FalseScrap, last.FalseScrap+1e-12)
			assert.InDelta(t, 1, now.Passed+now.FalseScrap+(bad-now.Escapes), 1e-9, "every unit goes somewhere")
			last = now
		}
	})
}
