package report

import (
	"fmt"

	"padjig/results/answers"
	"padjig/results/answers/gauge"
	"padjig/results/studies"
)

// GaugeResult writes what a study found.
func GaugeResult(g gauge.Gauge) Document {
	s := g.Study
	d := Document{Title: fmt.Sprintf("Gauge study %d: %s", s.Number, Measured(terminal, g.Measure)),
		Simulated: s.Simulated(),
		Selection: fmt.Sprintf("%s %s, %d parts by %d %ss, %d repeats", s.Product, s.Revision, len(s.Parts),
			len(s.Appraisers), s.Across, s.Repeats)}
	keys, anova, components, verdicts := GaugeTable(g), AnovaTable(g.Shown), ComponentTable(g), AgreementTable(g)
	keys.Title = "Key by key: standard deviations, and the gauge (6 sd) as a part of the tolerance"
	anova.Title = "Analysis of variance, key " + g.Shown.Key
	if !g.Shown.Interaction {
		anova.Title += ": without interaction, which its p above 0.25 does not support"
	}
	components.Title = fmt.Sprintf("Components, key %s, %s intervals: share of the variance, of the study's sd, and of the tolerance; negative estimates are set to 0", g.Shown.Key, percent(g.Confidence))
	verdicts.Title = fmt.Sprintf("Agreement of verdicts on whole units, %s intervals", percent(g.Confidence))
	d.Tables = []Table{keys, anova, components, verdicts}
	d.Conclusion = g.Conclusions
	return d
}

// GaugeTable has a row for each key.
func GaugeTable(g gauge.Gauge) Table {
	unit := g.Measure.Unit()
	t := Table{Name: "keys", Columns: []Column{{Name: "key"}, {Name: "mean", Unit: unit, Digits: 3},
		{Name: "repeatability_sd", Unit: unit, Digits: 4}, {Name: "gauge_sd", Unit: unit, Digits: 4}, {Name: "part_sd",
			Unit: unit, Digits: 4},
		{Name: "of_tolerance", Unit: "%", Digits: 2}, {Name: "categories"},
		{Name: "false_accept_ppm", Digits: 2, Minor: true}, {Name: "false_reject_ppm", Digits: 2, Minor: true}}}
	for _, k := range g.Rows {
		row := []any{k.Key, k.Mean, k.RepeatSD, k.GaugeSD, k.PartSD, k.OfTolerance, k.Categories, nil, nil}
		if k.Risks != nil {
			row[7], row[8] = 1e6*k.Risks.Accepted, 1e6*k.Risks.Rejected
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// AnovaTable is the analysis of variance of a key.
func AnovaTable(k gauge.KeyGauge) Table {
	t := Table{Name: "anova", Columns: []Column{{Name: "source"}, {Name: "df"}, {Name: "ss", Digits: 6},
		{Name: "ms", Digits: 6}, {Name: "f", Digits: 3}, {Name: "p"}}}
	for _, s := range k.Sources {
		t.Rows = append(t.Rows, []any{Word("component." + s.Code), s.DF, s.SS, s.MS, s.F, s.P})
	}
	return t
}

// ComponentTable tells gauge from parts at the key that is shown.
func ComponentTable(g gauge.Gauge) Table {
	t := Table{Name: "components", Columns: []Column{{Name: "component"},
		{Name: "sd", Unit: g.Measure.Unit(), Digits: 3}, {Name: "variance", Digits: 6, Minor: true},
		{Name: "raw", Digits: 6, Minor: true}, {Name: "contribution", Unit: "%", Digits: 1},
		{Name: "study", Unit: "%", Digits: 1, Minor: true}, {Name: "of_tolerance", Unit: "%", Digits: 1}}}
	for _, c := range g.Shown.Components {
		t.Rows = append(t.Rows, []any{Word("component." + c.Code), c.SD, c.Variance, c.Raw, c.Contribution, c.OfStudy,
			c.OfTolerance})
	}
	return t
}

// AgreementTable tells how verdicts agree: all, and those of each appraiser.
func AgreementTable(g gauge.Gauge) Table {
	t := Table{Name: "verdicts", Columns: []Column{{Name: "who"}, {Name: "units"},
		{Name: "agreed", Unit: "%", Digits: 2}, {Name: "kappa", Digits: 3}}}
	for _, a := range g.Agreement {
		who := a.Who
		if who == "" {
			who = "all"
		}
		t.Rows = append(t.Rows, []any{who, a.Units, a.Agreed, a.Kappa})
	}
	return t
}

// GaugePlan lists the readings of a study in the order to take them.
func GaugePlan(s studies.Study, at string) Document {
	d := Document{Title: fmt.Sprintf("Gauge study %d", s.Number),
		Selection: fmt.Sprintf("%s %s, %d parts by %d %ss, %d repeats: %d readings, order drawn with seed %d",
			s.Product, s.Revision, len(s.Parts), len(s.Appraisers), s.Across, s.Repeats, len(s.Plan), s.Seed)}
	t := Table{Name: "order", Title: "In this order", Columns: []Column{{Name: "place"}, {Name: "part"},
		{Name: "appraiser"}, {Name: "repeat"}}}
	for i, p := range s.Plan {
		t.Rows = append(t.Rows, []any{i + 1, s.Parts[p.Part], s.Appraisers[p.Appraiser], p.Repeat + 1})
	}
	d.Tables = []Table{t}
	who := "--jig PORT"
	if s.Across == studies.AcrossOperators {
		who += " --operator NAME"
	}
	d.Conclusion = []answers.Sentence{
		{Code: "gauge.measure", Tone: answers.Plain,
			Args: []any{fmt.Sprintf("padjig quality gauge run %d --product FILE %s%s", s.Number, who, at)}},
		{Code: "gauge.anew", Tone: answers.Plain}}
	return d
}

// GaugeList lists studies and how far each has come.
func GaugeList(list []studies.Study) Document {
	t := Table{Name: "studies", Title: "Gauge studies, newest first",
		Empty: "none was planned: padjig quality gauge plan", Columns: []Column{
			{Name: "number"}, {Name: "product"}, {Name: "revision"}, {Name: "across"}, {Name: "parts"}, {Name: "appraisers"}, {Name: "repeats"}, {Name: "measured"}, {Name: "planned"},
			{Name: "simulated", Minor: true}, {Name: "by", Minor: true}, {Name: "at", Minor: true}, {Name: "note",
				Minor: true}}}
	for _, s := range list {
		t.Rows = append(t.Rows, []any{int(s.Number), s.Product, s.Revision, string(s.Across) + "s", len(s.Parts),
			len(s.Appraisers), s.Repeats,
			len(s.Readings), len(s.Plan), s.Simulated(), s.By, s.At, s.Note})
	}
	return Document{Title: "Gauge studies", Selection: "all there are", Tables: []Table{t}}
}

// GaugeLinearity writes the bias on each reference resistor, and per range the
// line through the biases.
func GaugeLinearity(l gauge.Linearity) Document {
	bias, line := BiasTable(l), LinearityTable(l)
	bias.Title, line.Title = fmt.Sprintf("Bias, %s intervals",
		percent(l.Confidence)), "Line through the biases of each range"
	return Document{Title: "Bias and linearity", Simulated: l.Simulated,
		Selection: fmt.Sprintf("jig %s, %d readings of reference resistors", l.Jig, l.Readings),
		Tables:    []Table{bias, line}, Conclusion: l.Conclusions}
}

// BiasTable has a row for each reference resistor.
func BiasTable(l gauge.Linearity) Table {
	t := Table{Name: "bias", Columns: []Column{{Name: "range_ohm", Unit: "ohm"}, {Name: "resistor"},
		{Name: "certified_ohm", Unit: "ohm", Digits: 4}, {Name: "n"}, {Name: "bias_ohm", Unit: "ohm",
			Digits: 5}, {Name: "of_value", Unit: "%", Digits: 4}, {Name: "p"}}}
	for _, b := range l.Biases {
		t.Rows = append(t.Rows, []any{b.Range, b.Resistor, b.Certified, b.N, b.Bias, b.OfValue, b.P})
	}
	return t
}

// LinearityTable has a row for each range.
func LinearityTable(l gauge.Linearity) Table {
	t := Table{Name: "linearity", Columns: []Column{{Name: "range_ohm", Unit: "ohm"}, {Name: "n"},
		{Name: "slope", Unit: "%", Digits: 4}, {Name: "intercept_ohm", Unit: "ohm",
			Digits: 5}, {Name: "p"}, {Name: "why_not"}}}
	for _, r := range l.Lines {
		if r.Why != nil {
			t.Rows = append(t.Rows, []any{r.Range, r.N, nil, nil, nil, r.Why.Error()})
			continue
		}
		t.Rows = append(t.Rows, []any{r.Range, r.N, r.Slope, r.Intercept, r.P, nil})
	}
	return t
}

// GaugeStability writes key by key whether readings of a reference unit wander.
func GaugeStability(s gauge.Stability) Document {
	t := StabilityTable(s)
	t.Title = fmt.Sprintf("Key by key, %s intervals; sd from check to check; p of no trend", percent(s.Confidence))
	return Document{Title: "Stability: " + Measured(terminal, s.Measure), Simulated: s.Simulated,
		Selection: fmt.Sprintf("reference unit %s on jig %s, %d checks from %s to %s UTC",
			s.Unit, s.Jig, s.Checks, s.From.Format("2006-01-02 15:04"), s.To.Format("2006-01-02 15:04")), Tables: []Table{t}, Conclusion: s.Conclusions}
}

// StabilityTable has a row for each key.
func StabilityTable(s gauge.Stability) Table {
	unit := s.Measure.Unit()
	t := Table{Name: "stability", Columns: []Column{{Name: "key"}, {Name: "n"}, {Name: "mean", Unit: unit, Digits: 3},
		{Name: "sd", Unit: unit, Digits: 4},
		{Name: "per_day", Unit: unit, Digits: 5}, {Name: "p"}, {Name: "outside"}, {Name: "why_not", Minor: true}}}
	for _, k := range s.Rows {
		row := []any{k.Key, k.N, finite(k.Mean), finite(k.SD), k.PerDay, k.P, nil, reason(k.Why)}
		if k.Limited {
			row[6] = k.Outside
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
