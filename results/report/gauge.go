package report

import (
	"cmp"
	"fmt"

	"padjig/results/answers"
	"padjig/results/answers/gauge"
	"padjig/results/floor"
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
	d.Before, d.Conclusion = g.Before, g.Conclusions[len(g.Before):]
	return d
}

// GaugeTable has a row for each key.
func GaugeTable(g gauge.Gauge) Table {
	sd := " .4 " + g.Measure.Unit()
	return Table{Name: "keys", Columns: Columns("key, mean .3 " + g.Measure.Unit() + ", repeatability_sd" + sd + ", gauge_sd" + sd +
		", part_sd" + sd + ", of_tolerance % .2, categories, false_accept_ppm .2 minor, false_reject_ppm .2 minor"),
		Rows: rows(g.Rows, func(k gauge.KeyGauge) row {
			r := row{k.Key, k.Mean, k.RepeatSD, k.GaugeSD, k.PartSD, k.OfTolerance, k.Categories, nil, nil}
			if k.Risks != nil {
				r[7], r[8] = 1e6*k.Risks.Accepted, 1e6*k.Risks.Rejected
			}
			return r
		})}
}

// AnovaTable is the analysis of variance of a key.
func AnovaTable(k gauge.KeyGauge) Table {
	return Table{Name: "anova", Columns: Columns("source, df, ss .6, ms .6, f .3, p"),
		Rows: rows(k.Sources, func(s gauge.Source) row { return row{Word("component." + s.Code), s.DF, s.SS, s.MS, s.F, s.P} })}
}

// ComponentTable tells gauge from parts at the key that is shown.
func ComponentTable(g gauge.Gauge) Table {
	return Table{Name: "components", Columns: Columns("component, sd .3 " + g.Measure.Unit() +
		", variance .6 minor, raw .6 minor, contribution % .1, study % .1 minor, of_tolerance % .1"),
		Rows: rows(g.Shown.Components, func(c gauge.GaugeComponent) row {
			return row{Word("component." + c.Code), c.SD, c.Variance, c.Raw, c.Contribution, c.OfStudy, c.OfTolerance}
		})}
}

// AgreementTable tells how verdicts agree: all, and those of each appraiser.
func AgreementTable(g gauge.Gauge) Table {
	return Table{Name: "verdicts", Columns: Columns("who, units, agreed % .2, kappa .3"),
		Rows: rows(g.Agreement, func(a gauge.Agreement) row { return row{cmp.Or(a.Who, "all"), a.Units, a.Agreed, a.Kappa} })}
}

// GaugePlan lists the readings of a study in the order to take them.
func GaugePlan(s studies.Study, at string) Document {
	d := Document{Title: fmt.Sprintf("Gauge study %d", s.Number),
		Selection: fmt.Sprintf("%s %s, %d parts by %d %ss, %d repeats: %d readings, order drawn with seed %d",
			s.Product, s.Revision, len(s.Parts), len(s.Appraisers), s.Across, s.Repeats, len(s.Plan), s.Seed)}
	t := Table{Name: "order", Title: "In this order", Columns: Columns("place, part, appraiser, repeat")}
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
	return Document{Title: "Gauge studies", Selection: "all there are", Tables: []Table{{
		Name: "studies", Title: "Gauge studies, newest first", Empty: "none was planned: padjig quality gauge plan",
		Columns: Columns("number, product, revision, across, parts, appraisers, repeats, measured, planned," +
			"simulated minor, by minor, at minor, note minor"),
		Rows: rows(list, func(s studies.Study) row {
			return row{int(s.Number), s.Product, s.Revision, string(s.Across) + "s", len(s.Parts), len(s.Appraisers), s.Repeats,
				len(s.Readings), len(s.Plan), s.Simulated(), s.By, s.At, s.Note}
		})}}}
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
	return Table{Name: "bias", Columns: Columns("range_ohm ohm, resistor, certified_ohm ohm .4, n, bias_ohm ohm .5, of_value % .4, p"),
		Rows: rows(l.Biases, func(b gauge.Bias) row { return row{b.Range, b.Resistor, b.Certified, b.N, b.Bias, b.OfValue, b.P} })}
}

// LinearityTable has a row for each range.
func LinearityTable(l gauge.Linearity) Table {
	return Table{Name: "linearity", Columns: Columns("range_ohm ohm, n, slope % .4, intercept_ohm ohm .5, p, why_not"),
		Rows: rows(l.Lines, func(r gauge.LinearityLine) row {
			if r.Why != nil {
				return row{r.Range, r.N, nil, nil, nil, r.Why.Error()}
			}
			return row{r.Range, r.N, r.Slope, r.Intercept, r.P, nil}
		})}
}

// GaugeStability writes key by key whether readings of a reference unit wander.
func GaugeStability(s gauge.Stability) Document {
	t := StabilityTable(s)
	t.Title = fmt.Sprintf("Key by key, %s intervals; sd from check to check; p of no trend", percent(s.Confidence))
	return Document{Title: "Stability: " + Measured(terminal, s.Measure), Simulated: s.Simulated,
		Selection: fmt.Sprintf("reference unit %s on jig %s, %d checks from %s to %s UTC",
			s.Unit, s.Jig, s.Checks, s.From.Format(floor.MinuteForm), s.To.Format(floor.MinuteForm)), Tables: []Table{t}, Conclusion: s.Conclusions}
}

// StabilityTable has a row for each key.
func StabilityTable(s gauge.Stability) Table {
	unit := s.Measure.Unit()
	return Table{Name: "stability", Columns: Columns("key, n, mean .3 " + unit + ", sd .4 " + unit + ", per_day .5 " + unit + ", p, outside, why_not minor"),
		Rows: rows(s.Rows, func(k gauge.KeyStability) row {
			r := row{k.Key, k.N, finite(k.Mean), finite(k.SD), k.PerDay, k.P, nil, reason(k.Why)}
			if k.Limited {
				r[6] = k.Outside
			}
			return r
		})}
}
