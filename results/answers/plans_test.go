package answers

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/stats/sampling"
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
	s, err := AskSampling(SamplingAsked{Risks: DefaultRisks, Lot: 2000, Sequential: true})
	require.NoError(t, err)
	n, c := s.Plan.N, s.Plan.Accept
	assert.InDelta(t, 1-accepts(n, c, 0.01), s.Producer, 1e-9)
	assert.InDelta(t, accepts(n, c, 0.06), s.Consumer, 1e-9)
	assert.LessOrEqual(t, s.Producer, 0.05)
	assert.LessOrEqual(t, s.Consumer, 0.10)
	for _, p := range s.Curve {
		assert.InDelta(t, accepts(n, c, p.Bad), p.Accepted, 1e-9)
		// What is rejected is tested whole, and bad units found are replaced by good ones.
		assert.InDelta(t, float64(n)+(1-p.Accepted)*float64(2000-n), p.Tested, 1e-6)
		assert.LessOrEqual(t, p.Outgoing, s.WorstOutgoing+1e-12)
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
	assert.Equal(t, Say("sampling.plan", n, c, Percent{0.01, 2}, Percent{s.Producer, 2}, Percent{0.06, 2}, Percent{s.Consumer, 2}),
		s.Conclusions[0])
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
	assert.Equal(t, Warn("sampling.more", Percent{0.05, 2}, Percent{0.10, 2}), said(t, s.Conclusions, "sampling.more"))
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
		code           Sentence
		escapes, scrap float64
	}{
		{Say("policy.once"), 0.02 * 0.1, 0.98 * 0.05},
		{Say("policy.any", 2), 0.02 * (1 - 0.9*0.9), 0.98 * 0.05 * 0.05},
		{Say("policy.any", 3), 0.02 * (1 - 0.9*0.9*0.9), 0.98 * 0.05 * 0.05 * 0.05},
		{Say("policy.all", 2), 0.02 * 0.1 * 0.1, 0.98 * (1 - 0.95*0.95)},
	} {
		row := r.Rows[i]
		assert.Equal(t, want.code, row.Code())
		assert.InDelta(t, want.escapes, row.Escapes, 1e-12, "%d", i)
		assert.InDelta(t, want.scrap, row.FalseScrap, 1e-12, "%d", i)
	}
	now, once := r.Rows[2], r.Rows[0]
	assert.Equal(t, []Sentence{
		Say("retest.now", Say("policy.any", 3), Number{1e6 * now.Escapes, 1}, Number{1e6 * now.FalseScrap, 1},
			Number{now.TestsPerUnit, 4}),
		Say("retest.against", Number{1e6 * (now.Escapes - once.Escapes), 1}, Number{1e6 * (now.FalseScrap - once.FalseScrap), 1}),
		Say("retest.caution"), Say("retest.independent")}, r.Conclusions)

	errs.Sticks = 0.5
	r, err = AskRetest(RetestAsked{Errors: errs, Bad: 0.02, Current: sampling.TestOnce})
	require.NoError(t, err)
	assert.Equal(t, []string{"retest.now", "retest.caution"}, codesOf(r.Conclusions))
	r, err = AskRetest(RetestAsked{Errors: errs, Bad: 0.02, Current: RetestPolicy{Tests: 5}})
	require.NoError(t, err)
	require.Len(t, r.Rows, 5, "the one in force beside the usual ones")
	assert.Equal(t, Say("policy.any", 5), r.Rows[4].Code())
	_, err = AskRetest(RetestAsked{Errors: errs, Bad: 1.5, Current: sampling.TestOnce})
	assert.Error(t, err)
}

// Every question of the list is a function of this room, and every such function is in it.
func TestQuestionsAreThoseThatCanBeAsked(t *testing.T) {
	var asked, listed []string
	err := filepath.WalkDir(".", func(path string, d os.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		for _, d := range file.Decls {
			if f, is := d.(*ast.FuncDecl); is && f.Recv == nil && strings.HasPrefix(f.Name.Name, "Ask") {
				asked = append(asked, f.Name.Name)
			}
		}
		return nil
	})
	require.NoError(t, err)
	for _, q := range Questions {
		listed = append(listed, q.Ask)
	}
	assert.ElementsMatch(t, asked, listed)
}
