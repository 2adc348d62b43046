package plans

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/answers"
	"padjig/results/stats/sampling"
	"padjig/sequence"
)

// accepts is the chance that a plan accepts, summed by hand.
func accepts(n, accept int, bad float64) (sum float64) {
	term := math.Pow(1-bad, float64(n))
	for k := range accept + 1 {
		sum += term
		term *= float64(n-k) / float64(k+1) * bad / (1 - bad)
	}
	return sum
}

func TestSamplingPlanOfTwoPoints(t *testing.T) {
	s, err := AskSampling(SamplingAsked{Risks: DefaultRisks, Sequential: true})
	require.NoError(t, err)
	n, c := s.Plan.N, s.Plan.Accept
	assert.InDelta(t, 1-accepts(n, c, 0.01), s.Producer, 1e-9)
	assert.InDelta(t, accepts(n, c, 0.06), s.Consumer, 1e-9)
	assert.LessOrEqual(t, s.Producer, 0.05)
	assert.LessOrEqual(t, s.Consumer, 0.10)
	for _, p := range s.Curve {
		assert.InDelta(t, accepts(n, c, p.Bad), p.Accepted, 1e-9)
		exact, average := s.Line.Exact(p.Bad)
		assert.Equal(t, [2]float64{exact, average}, [2]float64{p.SequentialAccepted, p.Average})
	}
	assert.Len(t, s.Curve, 11)
	assert.Len(t, s.Drawn, 121)
	assert.Equal(t, [2]float64{0, 1}, [2]float64{s.Drawn[0].Bad, s.Drawn[0].Accepted})
	// Each step differs from the one before, and holds until the next.
	at := 0
	for tested := 1; tested <= n; tested++ {
		if at+1 < len(s.Steps) && s.Steps[at+1].Tested == tested {
			assert.False(t, s.Steps[at].Accept == s.Steps[at+1].Accept && s.Steps[at].Reject == s.Steps[at+1].Reject)
			at++
		}
		accept, reject := s.Line.At(tested)
		assert.Equal(t, [2]int{accept, reject}, [2]int{s.Steps[at].Accept, s.Steps[at].Reject}, "%d tested", tested)
	}
	assert.Equal(t, []string{"sampling.plan", "sampling.caution", "sampling.sequential"}, codesOf(s.Conclusions))
	assert.Equal(t, answers.Say("sampling.plan", n, c, answers.Percent{Value: 0.01, Digits: 2}, answers.Percent{Value: s.Producer, Digits: 2}, answers.Percent{Value: 0.06, Digits: 2}, answers.Percent{Value: s.Consumer, Digits: 2}),
		s.Conclusions[0])
}

// Of a lot of 300 a share of 1 % is three units. What is said of them is not the 27.9 % that
// a share of 1 % would give in an endless lot, but 173/300 172/299 171/298.
func TestSamplingPlanOfALot(t *testing.T) {
	s, err := AskSampling(SamplingAsked{Risks: Risks{Good: 0.001, Producer: 0.05, Bad: 0.01, Consumer: 0.2}, Plan: Plan{N: 127}, Lot: 300,
		Sequential: true})
	require.NoError(t, err)
	assert.InDelta(t, 173./300*172/299*171/298, s.Consumer, 1e-12)
	assert.Zero(t, s.Producer, "a good lot has no bad unit, and is never rejected")
	assert.Equal(t, answers.Say("sampling.plan.lot", 127, 300, 0, 0, answers.Percent{Value: 0, Digits: 2}, 3, answers.Percent{Value: s.Consumer, Digits: 2}), s.Conclusions[0])
	for _, p := range s.Curve {
		assert.InDelta(t, float64(p.BadUnits)/300, p.Bad, 1e-12)
		assert.InDelta(t, 127+(1-p.Accepted)*(300-127), p.Tested, 1e-9, "what is rejected is tested whole")
		assert.LessOrEqual(t, p.Outgoing, s.WorstOutgoing+1e-12)
	}
	assert.Equal(t, [2]float64{0, 1}, [2]float64{s.Drawn[0].Bad, s.Drawn[0].Accepted})
	designed, err := AskSampling(SamplingAsked{Risks: DefaultRisks, Lot: 300})
	require.NoError(t, err)
	assert.LessOrEqual(t, designed.Producer, 0.05)
	assert.LessOrEqual(t, designed.Consumer, 0.10)
	assert.Less(t, designed.Plan.N, 110, "of so few, fewer have to be tested than of an endless lot")
	_, err = AskSampling(SamplingAsked{Risks: DefaultRisks, Lot: 1_000_000})
	assert.ErrorContains(t, err, "leave its size out")
	assert.Equal(t, []sequence.Said{{Code: "lot size", Args: []string{"1000000", "100000"}}}, sequence.Wrongs(err), "said in words of a page")
}

// Accept on none of five, by hand: (1 - p)^5.
func TestSamplingPlanThatIsGiven(t *testing.T) {
	s, err := AskSampling(SamplingAsked{Risks: DefaultRisks, Plan: Plan{N: 5}, Shares: []float64{0, 0.5}})
	require.NoError(t, err)
	assert.InDelta(t, 1-math.Pow(0.99, 5), s.Producer, 1e-12)
	assert.InDelta(t, math.Pow(0.94, 5), s.Consumer, 1e-12)
	require.Len(t, s.Curve, 2)
	assert.InDelta(t, 1, s.Curve[0].Accepted, 1e-12)
	assert.InDelta(t, 1.0/32, s.Curve[1].Accepted, 1e-12)
	assert.Zero(t, s.Curve[1].Outgoing, "no lot, no outgoing quality")
	assert.Empty(t, s.Steps)
	assert.Contains(t, s.Conclusions, answers.Warn("sampling.more", answers.Percent{Value: 0.05, Digits: 2}, answers.Percent{Value: 0.10, Digits: 2}))
}

func TestSamplingPlansThatCannotBe(t *testing.T) {
	for name, c := range map[string]struct {
		asked SamplingAsked
		says  string
	}{
		"a lot below the sample": {SamplingAsked{Risks: DefaultRisks, Plan: Plan{N: 50, Accept: 1}, Lot: 49},
			"a lot of 49 is smaller than the sample of 50: test all of it"},
		"no plan":              {SamplingAsked{Risks: DefaultRisks, Plan: Plan{N: 5, Accept: 6}}, ""},
		"no risks":             {SamplingAsked{}, ""},
		"no sequential design": {SamplingAsked{Plan: Plan{N: 5}, Sequential: true}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := AskSampling(c.asked)
			require.Error(t, err)
			assert.ErrorContains(t, err, c.says)
		})
	}
	_, err := AskSampling(SamplingAsked{Risks: DefaultRisks, Plan: Plan{N: 50, Accept: 1}, Lot: 50})
	assert.NoError(t, err, "all of a lot is a sample")
}

// By hand: 2 % bad, a bad unit passes in 10 % and a good one fails in 5 % of the tests.
func TestRetestPoliciesByHand(t *testing.T) {
	errs := TestErrors{FalseReject: 0.05, FalseAccept: 0.10}
	r, err := AskRetest(RetestAsked{Errors: errs, Bad: 0.02, Current: RetestPolicy{Tests: 3}})
	require.NoError(t, err)
	require.Len(t, r.Rows, 4, "the one in force is a usual one")
	for i, want := range []struct {
		code           answers.Sentence
		escapes, scrap float64
	}{
		{answers.Say("policy.once"), 0.02 * 0.1, 0.98 * 0.05},
		{answers.Say("policy.any", 2), 0.02 * (1 - 0.9*0.9), 0.98 * 0.05 * 0.05},
		{answers.Say("policy.any", 3), 0.02 * (1 - 0.9*0.9*0.9), 0.98 * 0.05 * 0.05 * 0.05},
		{answers.Say("policy.all", 2), 0.02 * 0.1 * 0.1, 0.98 * (1 - 0.95*0.95)},
	} {
		row := r.Rows[i]
		assert.Equal(t, want.code, row.Code())
		assert.InDelta(t, want.escapes, row.Escapes, 1e-12, "%d", i)
		assert.InDelta(t, want.scrap, row.FalseScrap, 1e-12, "%d", i)
	}
	now, once := r.Rows[2], r.Rows[0]
	assert.Equal(t, []answers.Sentence{
		answers.Say("retest.now", answers.Say("policy.any", 3), answers.Number{Value: 1e6 * now.Escapes, Digits: 1}, answers.Number{Value: 1e6 * now.FalseScrap, Digits: 1},
			answers.Number{Value: now.TestsPerUnit, Digits: 4}),
		answers.Say("retest.against", answers.Number{Value: 1e6 * (now.Escapes - once.Escapes), Digits: 1}, answers.Number{Value: 1e6 * (now.FalseScrap - once.FalseScrap), Digits: 1}),
		answers.Say("retest.caution"), answers.Say("retest.independent")}, r.Conclusions)

	errs.Sticks = 0.5
	r, err = AskRetest(RetestAsked{Errors: errs, Bad: 0.02, Current: sampling.TestOnce})
	require.NoError(t, err)
	assert.Equal(t, []string{"retest.now", "retest.caution"}, codesOf(r.Conclusions))
	r, err = AskRetest(RetestAsked{Errors: errs, Bad: 0.02, Current: RetestPolicy{Tests: 5}})
	require.NoError(t, err)
	require.Len(t, r.Rows, 5, "the one in force beside the usual ones")
	assert.Equal(t, answers.Say("policy.any", 5), r.Rows[4].Code())
	_, err = AskRetest(RetestAsked{Errors: errs, Bad: 1.5, Current: sampling.TestOnce})
	assert.Error(t, err)
}

func codesOf(list []answers.Sentence) (out []string) {
	for _, s := range list {
		out = append(out, s.Code)
	}
	return out
}
