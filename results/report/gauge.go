package report

import (
	"errors"
	"fmt"
	"math"

	"padjig/results"
	"padjig/results/stats"
)

// GaugeAsked is a gauge study that was measured, and how to look at it.
type GaugeAsked struct {
	Study      results.Study
	Measure    results.Measure
	Values     results.Repeated
	Limits     map[string][2]float64 // of each key in the unit of the measure, 0: none
	Key        string                // shown in full; empty for the one with the worst gauge
	Confidence float64
	Keep       bool            // keep the interaction in the model, whatever its p
	Guard      float64         // guard band as a multiple of U = 2 u of the gauge
	Known      map[string]bool // parts whose state is known: true for bad
}

// GaugeResult says what a study tells about the gauge: how much of what it
// reads is itself, key by key; one key in full; and how verdicts agree.
func GaugeResult(a GaugeAsked) (Document, error) {
	repeats := a.complete()
	if repeats < 2 {
		return Document{}, fmt.Errorf("%d of %d readings were taken, and no two repeats are complete: go on measuring",
			len(a.Study.Readings), len(a.Study.Plan))
	}
	d := a.document()
	if repeats < a.Study.Repeats {
		d.Remarks = append(d.Remarks, fmt.Sprintf("%d of %d repeats are complete: only these are used", repeats, a.Study.Repeats))
	}
	gauges, left := a.gauges(repeats)
	if len(gauges) == 0 {
		return Document{}, errors.Join(left...)
	}
	for _, why := range left {
		d.Remarks = append(d.Remarks, why.Error())
	}
	shown, err := a.shown(gauges)
	if err != nil {
		return Document{}, err
	}
	d.Tables = append(d.Tables, a.keysTable(gauges), anovaTable(shown), a.componentsTable(shown))
	verdicts, words := a.verdicts(repeats)
	d.Tables = append(d.Tables, verdicts)
	d.Conclusion = append(append(a.words(shown), words...), gaugeCaution)
	return d, nil
}

const gaugeCaution = "The study speaks for these parts, this spread of parts, and the days it took. Parts all alike make any gauge look bad in study variation and categories; judge by tolerance then."

func (a GaugeAsked) document() Document {
	s := a.Study
	return Document{
		Title: fmt.Sprintf("Gauge study %d: %s", s.Number, a.Measure),
		Selection: fmt.Sprintf("%s %s, %d parts by %d %ss, %d repeats", s.Product, s.Revision, len(s.Parts), len(s.Appraisers),
			s.Across, s.Repeats),
		Simulated: s.Simulated(),
	}
}

// complete is how many repeats have all their readings.
func (a GaugeAsked) complete() int {
	missing := map[int]int{}
	for _, p := range a.Study.Plan {
		missing[p.Repeat]++
	}
	for _, r := range a.Study.Readings {
		missing[a.Study.Plan[r.Place].Repeat]--
	}
	n := 0
	for n < a.Study.Repeats && missing[n] == 0 {
		n++
	}
	return n
}

// gauge is what was found at one key.
type gauge struct {
	key   string
	study stats.GaugeStudy
	limit stats.Spec // infinite where there is none
	risks *misjudged // nil without a limit or without spread of parts
}

func (g gauge) sd(name string) float64 { return g.study.Component(name).SD() }

// tolerance is the width that gauge is compared with: between two limits, or
// twice from the parts' mean to the one.
func (g gauge) tolerance() float64 {
	mean := g.study.Anova.Mean
	switch {
	case g.limit.TwoSided():
		return g.limit.Upper - g.limit.Lower
	case !math.IsInf(g.limit.Upper, 1):
		return 2 * (g.limit.Upper - mean)
	case !math.IsInf(g.limit.Lower, -1):
		return 2 * (mean - g.limit.Lower)
	}
	return math.NaN()
}

// ofTolerance is a part's 6 sd of the tolerance, as a part of one.
func (g gauge) ofTolerance(name string) float64 {
	width := g.tolerance()
	if !(width > 0) {
		return math.NaN()
	}
	return g.study.Component(name).Tolerance(width) / 100
}

// gauges analyses every key; left says why those without an answer have none.
func (a GaugeAsked) gauges(repeats int) (list []gauge, left []error) {
	for _, key := range a.Values.Keys {
		g, err := a.gauge(key, repeats)
		if err != nil {
			left = append(left, fmt.Errorf("key %s: %w", key, err))
			continue
		}
		list = append(list, g)
	}
	return list, left
}

func (a GaugeAsked) gauge(key string, repeats int) (gauge, error) {
	readings, err := a.readings(key, repeats)
	if err != nil {
		return gauge{}, err
	}
	anova, err := stats.NewCrossed(readings)
	if err != nil {
		return gauge{}, err
	}
	if !a.Keep {
		anova = anova.Reduced()
	}
	study, err := anova.Study(a.Confidence)
	if err != nil {
		return gauge{}, err
	}
	g := gauge{key: key, study: study, limit: specOf(a.Limits[key])}
	g.risks = a.misjudges(g)
	return g, nil
}

// specOf takes 0 for no limit.
func specOf(limits [2]float64) stats.Spec {
	s := stats.Spec{Lower: math.Inf(-1), Upper: math.Inf(1)}
	if limits[0] != 0 {
		s.Lower = limits[0]
	}
	if limits[1] != 0 {
		s.Upper = limits[1]
	}
	return s
}

// readings sorts the values of a key by part, appraiser and repeat.
func (a GaugeAsked) readings(key string, repeats int) ([][][]float64, error) {
	s := a.Study
	y := make([][][]float64, len(s.Parts))
	for p := range y {
		y[p] = make([][]float64, len(s.Appraisers))
		for o := range y[p] {
			y[p][o] = make([]float64, repeats)
		}
	}
	missing := 0
	for place, p := range s.Plan {
		if p.Repeat >= repeats {
			continue
		}
		v := a.Values.Values[key][place]
		if math.IsNaN(v) {
			missing++
		}
		y[p.Part][p.Appraiser][p.Repeat] = v
	}
	if missing > 0 {
		return nil, fmt.Errorf("%d readings are no number (not measured, or beyond the range)", missing)
	}
	return y, nil
}

// shown is the key that is shown in full: the one asked for, or the one where
// the gauge takes most of the tolerance, or else of the total.
func (a GaugeAsked) shown(list []gauge) (gauge, error) {
	worst, most := list[0], -1.0
	for _, g := range list {
		if g.key == a.Key {
			return g, nil
		}
		share := g.ofTolerance(stats.Gauge)
		if math.IsNaN(share) {
			share = g.study.Component(stats.Gauge).StudyVariation / 1e6 // only among keys without limits
		}
		if share > most {
			worst, most = g, share
		}
	}
	if a.Key != "" {
		return gauge{}, &results.MissingKeysError{Missing: []string{a.Key}, Known: a.Values.Keys}
	}
	return worst, nil
}

func (a GaugeAsked) keysTable(list []gauge) Table {
	unit := a.Measure.Unit()
	t := Table{Name: "keys", Title: "Key by key: standard deviations, and the gauge (6 sd) as a part of the tolerance", Columns: []Column{
		{Name: "key", Head: "key"}, {Name: "mean", Head: "mean", Unit: unit, Digits: 3},
		{Name: "repeatability_sd", Head: "repeat sd", Unit: unit, Digits: 4}, {Name: "gauge_sd", Head: "gauge sd", Unit: unit, Digits: 4},
		{Name: "part_sd", Head: "part sd", Unit: unit, Digits: 4}, {Name: "of_tolerance", Head: "of tolerance", Unit: "%", Digits: 2},
		{Name: "categories", Head: "categories"},
		{Name: "false_accept_ppm", Head: "bad accepted, ppm", Digits: 2, Minor: true}, {Name: "false_reject_ppm", Head: "good rejected, ppm", Digits: 2, Minor: true},
	}}
	for _, g := range list {
		row := []any{g.key, g.study.Anova.Mean, g.sd(stats.Repeatability), g.sd(stats.Gauge), g.sd(stats.PartToPart),
			g.ofTolerance(stats.Gauge), g.study.Categories, nil, nil}
		if g.risks != nil {
			row[7], row[8] = 1e6*g.risks.accepted, 1e6*g.risks.rejected
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func anovaTable(g gauge) Table {
	c := g.study.Anova
	title := "Analysis of variance, key " + g.key
	if !c.Interaction {
		title += ": without interaction, which its p above 0.25 does not support"
	}
	t := Table{Name: "anova", Title: title, Columns: []Column{
		{Name: "source", Head: "source"}, {Name: "df", Head: "df"}, {Name: "ss", Head: "sum of squares", Digits: 6},
		{Name: "ms", Head: "mean square", Digits: 6}, {Name: "f", Head: "F", Digits: 3}, {Name: "p", Head: "p"},
	}}
	add := func(name string, s stats.Source) {
		row := []any{name, s.DF, s.SS, s.MS(), s.F, nil}
		if !math.IsNaN(s.P) {
			row[5] = Chance(s.P)
		}
		t.Rows = append(t.Rows, row)
	}
	add("part", c.Part)
	add("appraiser", c.Operator)
	if c.Interaction {
		add("appraiser x part", c.Cross)
	}
	add("repeatability", c.Error)
	add("total", c.All)
	return t
}

// componentWords are the names of the components here: what repeats the
// measurement may be a jig or an operator.
var componentWords = map[string]string{
	stats.Gauge: "gauge", stats.Repeatability: "repeatability", stats.Reproducibility: "reproducibility",
	stats.Operators: "appraiser", stats.OperatorPart: "appraiser x part", stats.PartToPart: "part to part", stats.TotalVariation: "total",
}

func (a GaugeAsked) componentsTable(g gauge) Table {
	unit := a.Measure.Unit()
	t := Table{Name: "components", Title: fmt.Sprintf("Components, key %s, %s intervals: share of the variance, of the study's sd, and of the tolerance; negative estimates are set to 0",
		g.key, percent(a.Confidence)), Columns: []Column{
		{Name: "component", Head: "component"}, {Name: "sd", Head: "sd", Unit: unit, Digits: 3},
		{Name: "variance", Head: "variance", Digits: 6, Minor: true}, {Name: "raw", Head: "as estimated", Digits: 6, Minor: true},
		{Name: "contribution", Head: "variance", Unit: "%", Digits: 1}, {Name: "study", Head: "study", Unit: "%", Digits: 1, Minor: true},
		{Name: "of_tolerance", Head: "tolerance", Unit: "%", Digits: 1},
	}}
	for _, c := range g.study.Components {
		t.Rows = append(t.Rows, []any{componentWords[c.Name],
			Estimate{c.SD(), math.Sqrt(c.Interval.Low), math.Sqrt(c.Interval.High)}, c.Variance, c.Raw,
			c.Contribution / 100, c.StudyVariation / 100, g.ofTolerance(c.Name)})
	}
	return t
}
