package gauge

import (
	"errors"
	"math"
	"slices"

	"padjig/results/answers"
	"padjig/results/stats/gauge"
)

// agreement tells how the runs' verdicts agree.
func (g *gauging) agreement() {
	all := make([][]string, len(g.Study.Parts))
	each := make([][][]string, len(g.Study.Appraisers))
	for i := range each {
		each[i] = make([][]string, len(g.Study.Parts))
	}
	for _, r := range g.Study.Readings {
		p := g.Study.Plan[r.Place]
		if p.Repeat < g.Repeats {
			all[p.Part] = append(all[p.Part], string(r.Outcome))
			each[p.Appraiser][p.Part] = append(each[p.Appraiser][p.Part], string(r.Outcome))
		}
	}
	for _, list := range all {
		if len(slices.Compact(slices.Clone(list))) == 1 {
			g.SameParts++
		}
	}
	g.Agreement = append(g.Agreement, agreementOf("", all, g.Confidence))
	for i, name := range g.Study.Appraisers {
		g.Agreement = append(g.Agreement, agreementOf(name, each[i], g.Confidence))
	}
}

func agreementOf(who string, verdicts [][]string, confidence float64) Agreement {
	k, err := gauge.FleissKappa(verdicts, confidence)
	if err != nil {
		return Agreement{Who: who, Units: len(verdicts), Agreed: math.NaN(), Kappa: answers.Unknown(), Why: err}
	}
	return Agreement{who, k.N, k.Observed, answers.EstimateOf(k.Value, k.Interval), nil}
}

// chosen reports whether a part is known to be bad: such parts are taken for their faults, and
// stand for no production.
func (g gauging) chosen() bool {
	return slices.ContainsFunc(g.Study.Parts, func(part string) bool { return g.Known[part] })
}

// before says of which parts the figures hold that are of a process.
func (g gauging) before() []answers.Sentence {
	if g.chosen() {
		return []answers.Sentence{answers.Warn("gauge.chosen")}
	}
	return []answers.Sentence{answers.Say("gauge.drawn")}
}

func (g gauging) words() []answers.Sentence {
	out := append(slices.Clone(g.Before), g.gaugeWords()...)
	if g.Repeats < g.Study.Repeats {
		out = append(out, answers.Warn("gauge.repeats", g.Repeats, g.Study.Repeats))
	}
	if len(g.Left) > 0 {
		out = append(out, answers.Warn("gauge.left", len(g.Left), errors.Join(g.Left...).Error()))
	}
	parts := answers.Selection{Confidence: g.Confidence}.Share(g.SameParts, len(g.Study.Parts))
	out = append(out, answers.Say("gauge.agreed", g.SameParts, len(g.Study.Parts), answers.Part(parts)))
	if kappa := g.Agreement[0]; kappa.Why == nil {
		out = append(out, answers.Say("gauge.kappa", answers.Number{Value: kappa.Kappa.Value, Digits: 2}, answers.Number{Value: kappa.Kappa.Low, Digits: 2},
			answers.Number{Value: kappa.Kappa.High, Digits: 2}))
	} else {
		out = append(out, answers.Say("gauge.nokappa"))
	}
	return append(append(out, g.knownWords()...), answers.Say("gauge.caution"), answers.Say("gauge.notshown"))
}

func (g gauging) gaugeWords() []answers.Sentence {
	k, unit := g.Shown, answers.Word("unit."+g.Measure.Unit())
	c := k.Components[slices.IndexFunc(k.Components, func(c GaugeComponent) bool { return c.Code == "gauge" })]
	out := []answers.Sentence{answers.Say("gauge.scatters", k.Key, answers.Figure(c.SD.Value), unit, answers.Figure(c.SD.Low), answers.Figure(c.SD.High),
		answers.Percent{Value: c.Contribution, Digits: 1}, k.Categories)}
	switch {
	case math.IsNaN(k.OfTolerance):
		out = append(out, answers.Say("gauge.notolerance"))
	case k.OfTolerance < 0.1: // common practice, as the bound at 30 %
		out = append(out, answers.Say("gauge.good", answers.Percent{Value: k.OfTolerance, Digits: 1}))
	case k.OfTolerance <= 0.3:
		out = append(out, answers.Say("gauge.fair", answers.Percent{Value: k.OfTolerance, Digits: 1}))
	default:
		out = append(out, answers.Warn("gauge.unfit", answers.Percent{Value: k.OfTolerance, Digits: 1}))
	}
	if k.Interaction {
		out = append(out, answers.Say("gauge.kept", k.InteractionP))
	} else {
		out = append(out, answers.Say("gauge.pooled", k.InteractionP))
	}
	if m := k.Risks; m != nil {
		out = append(out, answers.Say("gauge.risks", answers.Figure(1e6*m.Bad), answers.Number{Value: g.Guard, Digits: 2}, answers.Figure(1e6*m.Accepted),
			answers.Figure(1e6*m.Rejected)))
		if reject, accept := m.Errors(); m.Bad > 0 && accept > 0 {
			out = append(out, answers.Say("gauge.retest", answers.Short(reject), answers.Short(accept), answers.Short(m.Bad)))
		}
	}
	return out
}

func (g gauging) knownWords() []answers.Sentence {
	if len(g.Known) == 0 {
		return nil
	}
	var verdicts []gauge.Judged
	for _, r := range g.Study.Readings {
		p := g.Study.Plan[r.Place]
		if bad, known := g.Known[g.Study.Parts[p.Part]]; known && p.Repeat < g.Repeats {
			verdicts = append(verdicts, gauge.Judged{Bad: bad, Passed: string(r.Outcome) == "pass"})
		}
	}
	e, err := gauge.AgainstReference(verdicts, g.Confidence)
	if err != nil {
		return []answers.Sentence{answers.Say("gauge.noknown")}
	}
	out := []answers.Sentence{answers.Say("gauge.right", e.Right, e.N, answers.Percent{Value: e.Agreement.Low, Digits: 1})}
	if e.Go > 0 {
		out = append(out, answers.Say("gauge.falserejects", e.FalseRejects, e.Go, answers.Percent{Value: e.FalseReject.High, Digits: 1}))
	}
	if e.No > 0 {
		out = append(out, answers.Say("gauge.falseaccepts", e.FalseAccepts, e.No, answers.Percent{Value: e.FalseAccept.High, Digits: 1}))
	}
	return out
}
