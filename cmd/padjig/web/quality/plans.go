package quality

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers/plans"
	"padjig/results/report"
	"padjig/results/report/chart"
	"padjig/sequence"
)

// Pages about plans, not about runs: how many units of a lot to test, and what
// testing again makes of a test that errs. No runs are chosen on them, see pages.plan.

// samplingPage says what a plan of how many to test lets through.
func samplingPage(s *study) error {
	a := plans.SamplingAsked{Risks: plans.DefaultRisks, Sequential: s.param("sequential", "0") == "1"}
	var given given
	given.percent(s, "good", &a.Risks.Good)
	given.percent(s, "bad", &a.Risks.Bad)
	given.percent(s, "producer", &a.Risks.Producer)
	given.percent(s, "consumer", &a.Risks.Consumer)
	given.whole(s, "n", &a.Plan.N)
	given.whole(s, "accept", &a.Plan.Accept)
	given.whole(s, "lotsize", &a.Lot)
	s.offer(s.one("sequential", bit(a.Sequential), "0", "1"))
	if given.err != nil {
		return given.err
	}
	plan, err := plans.AskSampling(a)
	if err != nil {
		return page.Wrong(s.noPlan(err))
	}
	sampling(s, plan)
	return nil
}

// noPlan says why nothing comes of shares and risks: what somebody can mend by its code, and of
// what is left that they do not fit together.
func (s *study) noPlan(err error) string {
	if len(sequence.Wrongs(err)) > 0 {
		return s.Told(err)
	}
	return s.Say("plans.none")
}

func sampling(s *study, plan plans.Sampling) {
	title := s.Say("sampling.curve")
	c := chart.Curves{Frame: s.frame("curve", title, s.Say("sampling.curve.desc"), 1000, 320),
		X: chart.Axis{Label: s.Say("sampling.axis.bad")}, Y: chart.Axis{Label: s.Say("sampling.axis.accepted"), To: 100}}
	line := chart.Curve{}
	for _, p := range plan.Drawn {
		line.X, line.Y = append(line.X, 100*p.Bad), append(line.Y, 100*p.Accepted)
	}
	c.Curves = []chart.Curve{line}
	s.show(s.Say("sampling.plan.title"), report.PlanTable(plan), true, tell(s.Words, plan.Conclusions)...)
	s.add(figure{Title: title, Chart: c.SVG(), Table: s.TableOf(report.CurveTable(plan), title)})
	if plan.Sequential {
		s.show(s.Say("sampling.sequential.title"), report.SequentialTable(plan), false)
		s.show(s.Say("sampling.sequential.curve"), report.SequentialCurveTable(plan), false)
	}
}

// retestPage says what testing again makes of a test that errs.
func retestPage(s *study) error {
	a := plans.RetestAsked{Errors: plans.TestErrors{FalseReject: 0.005, FalseAccept: 0.02}, Bad: 0.003,
		Current: plans.RetestPolicy{Tests: 2}}
	var given given
	given.percent(s, "falsereject", &a.Errors.FalseReject)
	given.percent(s, "falseaccept", &a.Errors.FalseAccept)
	given.percent(s, "badunits", &a.Bad)
	given.percent(s, "sticks", &a.Errors.Sticks)
	given.whole(s, "tests", &a.Current.Tests)
	all := s.param("policy", "any")
	s.offer(s.one("policy", all, "any", "all"))
	if given.err != nil {
		return given.err
	}
	a.Current.Tests = min(max(a.Current.Tests, 1), 1000)
	a.Current.AllPass = all == "all" && a.Current.Tests > 1
	r, err := plans.AskRetest(a)
	if err != nil {
		return page.Wrong(s.noPlan(err))
	}
	s.show(s.Say("retest.policies"), report.RetestTable(r), true, tell(s.Words, r.Conclusions)...)
	return nil
}

// given reads numbers of a page's own, and keeps the first mistake.
type given struct{ err error }

// ohm reads a resistance with a comma or a point; nothing leaves it as it is.
func (g *given) ohm(s *study, name string, to *float64) {
	text := s.param(name, "")
	v, err := page.ParseNumber(text)
	switch {
	case text == "":
	case err != nil || v < 0 || v > 1e9 || name == "limit" && v == 0:
		g.fail(s, name, text)
	default:
		*to = v
	}
}

// percent reads a part of one that is written in per cent, and asks for it.
func (g *given) percent(s *study, name string, to *float64) {
	g.part(s, name, to)
	s.offer(s.number(name, strconv.FormatFloat(math.Round(*to*1e10)/1e8, 'f', -1, 64)))
}

// share is percent where nothing is said for none.
func (g *given) share(s *study, name string, to *float64) {
	g.part(s, name, to)
	text := ""
	if *to != 0 {
		text = strconv.FormatFloat(math.Round(*to*1e10)/1e8, 'f', -1, 64)
	}
	s.offer(s.number(name, text))
}

func (g *given) part(s *study, name string, to *float64) {
	text := strings.TrimSpace(strings.TrimSuffix(s.param(name, ""), "%"))
	v, err := page.ParseNumber(text)
	switch {
	case text == "":
	case err != nil || !(v >= 0 && v <= 100):
		g.fail(s, name, text)
	default:
		*to = v / 100
	}
}

// whole reads a count, and asks for it; nothing stands for none.
func (g *given) whole(s *study, name string, to *int) {
	text := s.param(name, "")
	n, err := strconv.Atoi(text)
	switch {
	case text == "":
	case err != nil || n < 0 || n > 1e7:
		g.fail(s, name, text)
	default:
		*to = n
	}
	if *to > 0 {
		text = fmt.Sprint(*to)
	}
	s.offer(s.number(name, text))
}

func (g *given) fail(s *study, name, text string) {
	if g.err == nil {
		g.err = page.Wrong(s.Say("limits.notnumber", s.Say("ask."+name), text))
	}
}
