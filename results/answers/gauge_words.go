package answers

import (
	"errors"
	"math"
	"slices"

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
		return Agreement{Who: who, Units: len(verdicts), Agreed: math.NaN(), Kappa: unknown(), Why: err}
	}
	return Agreement{who, k.N, k.Observed, estimate(k.Value, k.Interval), nil}
}

func (g gauging) words() []Sentence {
	out := g.gaugeWords()
	if g.Repeats < g.Study.Repeats {
		out = append(out, warn("gauge.repeats", g.Repeats, g.Study.Repeats))
	}
	if len(g.Left) > 0 {
		out = append(out, warn("gauge.left", len(g.Left), errors.Join(g.Left...).Error()))
	}
	parts := Selection{Confidence: g.Confidence}.share(g.SameParts, len(g.Study.Parts))
	out = append(out, say("gauge.agreed", g.SameParts, len(g.Study.Parts), Part(parts)))
	if kappa := g.Agreement[0]; kappa.Why == nil {
		out = append(out, say("gauge.kappa", Number{kappa.Kappa.Value, 2}, Number{kappa.Kappa.Low, 2},
			Number{kappa.Kappa.High, 2}))
	} else {
		out = append(out, say("gauge.nokappa"))
	}
	return append(append(out, g.knownWords()...), say("gauge.caution"), say("gauge.notshown"))
}

func (g gauging) gaugeWords() []Sentence {
	k, unit := g.Shown, Word("unit."+g.Measure.Unit())
	c := k.Components[slices.IndexFunc(k.Components, func(c GaugeComponent) bool { return c.Code == "gauge" })]
	out := []Sentence{say("gauge.scatters", k.Key, Figure(c.SD.Value), unit, Figure(c.SD.Low), Figure(c.SD.High),
		Percent{c.Contribution, 1}, k.Categories)}
	switch {
	case math.IsNaN(k.OfTolerance):
		out = append(out, say("gauge.notolerance"))
	case k.OfTolerance < 0.1: // common practice, as the bound at 30 %
		out = append(out, say("gauge.good", Percent{k.OfTolerance, 1}))
	case k.OfTolerance <= 0.3:
		out = append(out, say("gauge.fair", Percent{k.OfTolerance, 1}))
	default:
		out = append(out, warn("gauge.unfit", Percent{k.OfTolerance, 1}))
	}
	if k.Interaction {
		out = append(out, say("gauge.kept", k.InteractionP))
	} else {
		out = append(out, say("gauge.pooled", k.InteractionP))
	}
	if m := k.Risks; m != nil {
		out = append(out, say("gauge.risks", Figure(1e6*m.Bad), Number{g.Guard, 2}, Figure(1e6*m.Accepted),
			Figure(1e6*m.Rejected)))
		if reject, accept := m.Errors(); m.Bad > 0 && accept > 0 {
			out = append(out, say("gauge.retest", Short(reject), Short(accept), Short(m.Bad)))
		}
	}
	return out
}

func (g gauging) knownWords() []Sentence {
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
		return []Sentence{say("gauge.noknown")}
	}
	out := []Sentence{say("gauge.right", e.Right, e.N, Percent{e.Agreement.Low, 1})}
	if e.Go > 0 {
		out = append(out, say("gauge.falserejects", e.FalseRejects, e.Go, Percent{e.FalseReject.High, 1}))
	}
	if e.No > 0 {
		out = append(out, say("gauge.falseaccepts", e.FalseAccepts, e.No, Percent{e.FalseAccept.High, 1}))
	}
	return out
}
