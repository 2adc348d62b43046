package plans

import (
	"slices"

	"padjig/results/answers"
	"padjig/results/stats/sampling"
)

// RetestAsked asks what testing again lets through, scraps and costs.
type RetestAsked struct {
	Errors  TestErrors
	Bad     float64      // share of bad units before the test
	Current RetestPolicy // the one in force
}

// Retest is what each policy makes of it.
type Retest struct {
	RetestAsked
	Rows        []PolicyRow
	Conclusions []answers.Sentence
}

// PolicyRow is one policy.
type PolicyRow struct {
	RetestPolicy
	sampling.PolicyYield
}

// AskRetest compares the usual policies with the one in force.
func AskRetest(a RetestAsked) (Retest, error) {
	r := Retest{RetestAsked: a}
	policies := []RetestPolicy{sampling.TestOnce, sampling.ReseatOnce, {Tests: 3}, {Tests: 2, AllPass: true}}
	if !slices.Contains(policies, a.Current) {
		policies = append(policies, a.Current)
	}
	for _, p := range policies {
		y, err := p.Yield(a.Errors, a.Bad)
		if err != nil {
			return r, err
		}
		r.Rows = append(r.Rows, PolicyRow{p, y})
	}
	r.Conclusions = r.words()
	return r, nil
}

// of is the row of a policy.
func (r Retest) of(p RetestPolicy) PolicyRow {
	i := slices.IndexFunc(r.Rows, func(row PolicyRow) bool { return row.RetestPolicy == p })
	return r.Rows[i]
}

func (r Retest) words() []answers.Sentence {
	now, once := r.of(r.Current), r.of(sampling.TestOnce)
	out := []answers.Sentence{answers.Say("retest.now", now.Code(), answers.Number{Value: 1e6 * now.Escapes, Digits: 1}, answers.Number{Value: 1e6 * now.FalseScrap, Digits: 1},
		answers.Number{Value: now.TestsPerUnit, Digits: 4})}
	if r.Current != sampling.TestOnce {
		out = append(out, answers.Say("retest.against", answers.Number{Value: 1e6 * (now.Escapes - once.Escapes), Digits: 1},
			answers.Number{Value: 1e6 * (now.FalseScrap - once.FalseScrap), Digits: 1}))
	}
	out = append(out, answers.Say("retest.caution"))
	if r.Errors.Sticks == 0 {
		out = append(out, answers.Say("retest.independent"))
	}
	return out
}

// Code is the name of a policy, a number of tests within it.
func (p PolicyRow) Code() answers.Sentence {
	switch {
	case p.RetestPolicy == sampling.TestOnce:
		return answers.Say("policy.once")
	case p.AllPass:
		return answers.Say("policy.all", p.Tests)
	}
	return answers.Say("policy.any", p.Tests)
}
