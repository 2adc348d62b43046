package report

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
	"padjig/sequence/decide"
)

// misjudged is what one reading of a key does to units like the parts.
type misjudged struct {
	accepted, rejected float64 // bad and accepted, good and rejected; parts of all units
	bad                float64 // part of all units
}

// errors are the chances of one test to err on a good and on a bad unit.
func (m misjudged) errors() (falseReject, falseAccept float64) {
	if m.bad < 1 {
		falseReject = m.rejected / (1 - m.bad)
	}
	if m.bad > 0 {
		falseAccept = m.accepted / m.bad
	}
	return falseReject, falseAccept
}

// misjudges takes units for normal with the parts' mean and spread and the
// gauge for normal with its own (JCGM 106, clause 9.5).
func (a GaugeAsked) misjudges(g gauge) *misjudged {
	gaugeSD, partSD := g.sd(stats.Gauge), g.sd(stats.PartToPart)
	if g.limit.Check() != nil || gaugeSD == 0 || partSD == 0 {
		return nil
	}
	process := distuv.Normal{Mu: g.study.Anova.Mean, Sigma: partSD}
	tolerance := decide.Interval{Low: g.limit.Lower, High: g.limit.Upper}
	risks := decide.Global(process, tolerance, tolerance.Guarded(decide.Band(a.Guard, gaugeSD)), decide.Normal(gaugeSD))
	return &misjudged{accepted: risks.Consumer, rejected: risks.Producer, bad: max(0, 1-decide.Conforming(process, tolerance))}
}

func (a GaugeAsked) words(g gauge) []string {
	unit := a.Measure.Unit()
	c := g.study.Component(stats.Gauge)
	first := fmt.Sprintf("Key %s: one reading scatters by %.4g %s (standard deviation; %.4g to %.4g) about the part's own value: %.3g %% of the variance seen.",
		g.key, c.SD(), unit, math.Sqrt(c.Interval.Low), math.Sqrt(c.Interval.High), c.Contribution)
	if share := g.ofTolerance(stats.Gauge); !math.IsNaN(share) {
		first += fmt.Sprintf(" Six of them take %.3g %% of the tolerance: %s.", 100*share, sizeOf(share))
	} else {
		first += " The key has no limit on this reading, or its mean lies beyond it: there is no tolerance to compare with."
	}
	if g.study.Categories > 1 {
		first += fmt.Sprintf(" It tells %d groups of such parts apart.", g.study.Categories)
	} else {
		first += " It cannot tell such parts apart."
	}
	words := []string{first}
	if g.risks != nil {
		words = append(words, a.riskWords(*g.risks))
	}
	return words
}

// sizeOf are the usual bounds; common practice.
func sizeOf(share float64) string {
	switch {
	case share < 0.1:
		return "usually called good (below 10 %)"
	case share <= 0.3:
		return "usually called fit for some uses (10 to 30 %)"
	}
	return "usually called unfit (above 30 %)"
}

func (a GaugeAsked) riskWords(m misjudged) string {
	falseReject, falseAccept := m.errors()
	guard := "without guard band"
	if a.Guard != 0 {
		guard = fmt.Sprintf("with a guard band of %.3g U", a.Guard)
	}
	words := fmt.Sprintf("If units are normal with the mean and spread of these parts, %.4g in a million are bad at this key; one reading, %s, accepts %.3g bad and rejects %.3g good in a million.",
		1e6*m.bad, guard, 1e6*m.accepted, 1e6*m.rejected)
	if m.bad > 0 && falseAccept > 0 {
		words += fmt.Sprintf(" What testing again makes of that: padjig quality retest --false-reject %.3g --false-accept %.3g --bad %.3g",
			falseReject, falseAccept, m.bad)
	}
	return words
}

// verdicts tells how the runs' verdicts agree: all on a part, those of each
// appraiser, and with what is known of the parts.
func (a GaugeAsked) verdicts(repeats int) (Table, []string) {
	t := Table{Name: "verdicts", Title: fmt.Sprintf("Agreement of verdicts on whole units, %s intervals", percent(a.Confidence)), Columns: []Column{
		{Name: "who", Head: "verdicts of"}, {Name: "units", Head: "units"}, {Name: "agreed", Head: "pairs agreed", Unit: "%", Digits: 2},
		{Name: "kappa", Head: "kappa", Digits: 3},
	}}
	all, each := a.judged(repeats)
	var words []string
	t.Rows = append(t.Rows, a.kappaRow("all", all))
	for i, name := range a.Study.Appraisers {
		t.Rows = append(t.Rows, a.kappaRow(name, each[i]))
	}
	if _, err := stats.FleissKappa(all, a.Confidence); err != nil {
		words = append(words, fmt.Sprintf("Of kappa: %v. Take parts of which about half should fail to learn how verdicts agree.", err))
	}
	if len(a.Known) > 0 {
		words = append(words, a.knownWords(repeats))
	}
	return t, words
}

func (a GaugeAsked) kappaRow(who string, verdicts [][]string) []any {
	k, err := stats.FleissKappa(verdicts, a.Confidence)
	if err != nil {
		return []any{who, len(verdicts), nil, nil}
	}
	return []any{who, k.N, k.Observed, Estimate{k.Value, k.Interval.Low, k.Interval.High}}
}

// judged lists the verdicts on each part: of all, and of each appraiser.
func (a GaugeAsked) judged(repeats int) (all [][]string, each [][][]string) {
	s := a.Study
	all, each = make([][]string, len(s.Parts)), make([][][]string, len(s.Appraisers))
	for i := range each {
		each[i] = make([][]string, len(s.Parts))
	}
	for _, r := range s.Readings {
		p := s.Plan[r.Place]
		if p.Repeat < repeats {
			all[p.Part] = append(all[p.Part], string(r.Outcome))
			each[p.Appraiser][p.Part] = append(each[p.Appraiser][p.Part], string(r.Outcome))
		}
	}
	return all, each
}

func (a GaugeAsked) knownWords(repeats int) string {
	var verdicts []stats.Judged
	for _, r := range a.Study.Readings {
		p := a.Study.Plan[r.Place]
		if bad, known := a.Known[a.Study.Parts[p.Part]]; known && p.Repeat < repeats {
			verdicts = append(verdicts, stats.Judged{Bad: bad, Passed: string(r.Outcome) == "pass"})
		}
	}
	e, err := stats.AgainstReference(verdicts, a.Confidence)
	if err != nil {
		return "Against what is known of the parts: " + err.Error() + "."
	}
	words := []string{fmt.Sprintf("Against what is known of the parts, %d of %d verdicts are right (at least %.3g %% of all, with %s confidence both ways)",
		e.Right, e.N, 100*e.Agreement.Low, percent(a.Confidence))}
	if e.Go > 0 {
		words = append(words, fmt.Sprintf("%d of %d on good parts failed them (up to %.3g %%)", e.FalseRejects, e.Go, 100*e.FalseReject.High))
	}
	if e.No > 0 {
		words = append(words, fmt.Sprintf("%d of %d on bad parts passed them (up to %.3g %%)", e.FalseAccepts, e.No, 100*e.FalseAccept.High))
	}
	return strings.Join(words, "; ") + ". Repeats on one part are worth less than as many parts."
}
