// Package gauge is the questions about what measures: crossed studies, linearity and
// stability of a jig, and what they conclude.
package gauge

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/stats/capability"
	"padjig/results/stats/gauge"
	"padjig/results/studies"
	"padjig/sequence/decide"
)

// GaugeAsked asks what a gauge study found.
type GaugeAsked struct {
	Study      studies.Study
	Measure    lines.Measure   // empty: contact resistance
	Key        string          // shown in full; empty for the one with the worst gauge
	Confidence float64         // 0: [Confidence]
	Keep       bool            // keep the interaction in the model, whatever its p
	Guard      float64         // guard band as a multiple of U = 2 u of the gauge
	Known      map[string]bool // parts whose state is known: true for bad
}

// Gauge is how much of what the gauge reads is itself, key by key; one key in
// full; and how verdicts agree.
type Gauge struct {
	GaugeAsked
	Repeats     int // that are complete, and used
	Rows        []KeyGauge
	Left        []error // keys without an answer
	Shown       KeyGauge
	Agreement   []Agreement        // of all, and of each appraiser
	SameParts   int                // parts with one verdict every time
	Before      []answers.Sentence // of which parts they hold; Conclusions begin with it
	Conclusions []answers.Sentence
}

// KeyGauge is what was found at one key. SDs are those of single readings.
type KeyGauge struct {
	Key                       string
	Mean                      float64
	RepeatSD, GaugeSD, PartSD float64
	OfTolerance               float64 // 6 sd of the gauge, part of one; NaN without a limit
	Categories                int
	Risks                     *Misjudged
	Interaction               bool // kept in the model
	InteractionP              answers.Chance
	Sources                   []Source
	Components                []GaugeComponent
	Readings                  [][][]float64 // by part, appraiser and repeat
}

// Source is a line of the analysis of variance.
type Source struct {
	Code      string // "part", "appraiser", "appraiser x part", "repeatability", "total"
	DF        int
	SS, MS, F float64
	P         answers.Chance // NaN for none
}

// GaugeComponent is a part of the variance seen. A negative estimate is set to 0.
type GaugeComponent struct {
	Code                  string // "gauge", "repeatability", "reproducibility", "appraiser", "appraiser x part", "part to part", "total"
	SD                    answers.Estimate
	Variance, Raw         float64
	Contribution, OfStudy float64 // parts of one
	OfTolerance           float64
}

// Misjudged is what one reading of a key does to units like the parts; parts of
// all units (JCGM 106, clause 9.5).
type Misjudged struct{ Accepted, Rejected, Bad float64 }

// Errors are the chances of one test to err on a good and on a bad unit.
func (m Misjudged) Errors() (falseReject, falseAccept float64) {
	if m.Bad < 1 {
		falseReject = m.Rejected / (1 - m.Bad)
	}
	if m.Bad > 0 {
		falseAccept = m.Accepted / m.Bad
	}
	return falseReject, falseAccept
}

// Agreement is how verdicts agree (Fleiss).
type Agreement struct {
	Who    string // empty for all
	Units  int
	Agreed float64 // pairs
	Kappa  answers.Estimate
	Why    error
}

// IncompleteError is returned while no two repeats are complete.
type IncompleteError struct{ Taken, Planned int }

func (e *IncompleteError) Error() string {
	return fmt.Sprintf("%d of %d readings were taken, and no two repeats are complete: go on measuring", e.Taken, e.Planned)
}

// gauging is the answer in the making.
type gauging struct {
	Gauge
	values studies.Repeated
	limits map[string][2]float64
}

// AskGauge analyses a study.
func AskGauge(ctx context.Context, s *results.Store, a GaugeAsked) (Gauge, error) {
	a.Measure, a.Confidence = cmp.Or(a.Measure, lines.Contact), cmp.Or(a.Confidence, answers.Confidence)
	values, err := s.Studies.StudyValues(ctx, a.Study, a.Measure)
	if err != nil {
		return Gauge{GaugeAsked: a}, err
	}
	limits, err := s.Studies.KeyLimits(ctx, a.Study.Hash, a.Measure)
	if err != nil {
		return Gauge{GaugeAsked: a}, err
	}
	return analyse(a, values, limits)
}

func analyse(a GaugeAsked, values studies.Repeated, limits map[string][2]float64) (Gauge, error) {
	g := gauging{Gauge{GaugeAsked: a, Repeats: completeRepeats(a.Study)}, values, limits}
	if g.Repeats < 2 {
		return g.Gauge, &IncompleteError{len(a.Study.Readings), len(a.Study.Plan)}
	}
	for _, key := range values.Keys {
		k, err := g.key(key)
		if err != nil {
			g.Left = append(g.Left, fmt.Errorf("key %s: %w", key, err))
			continue
		}
		g.Rows = append(g.Rows, k)
	}
	if len(g.Rows) == 0 {
		return g.Gauge, errors.Join(g.Left...)
	}
	if err := g.show(); err != nil {
		return g.Gauge, err
	}
	g.agreement()
	g.Before = g.before()
	g.Conclusions = g.words()
	return g.Gauge, nil
}

// completeRepeats is how many repeats have all their readings.
func completeRepeats(s studies.Study) int {
	missing := map[int]int{}
	for _, p := range s.Plan {
		missing[p.Repeat]++
	}
	for _, r := range s.Readings {
		missing[s.Plan[r.Place].Repeat]--
	}
	n := 0
	for n < s.Repeats && missing[n] == 0 {
		n++
	}
	return n
}

func (g gauging) key(key string) (KeyGauge, error) {
	readings, err := g.readings(key)
	if err != nil {
		return KeyGauge{}, err
	}
	anova, err := gauge.NewCrossed(readings)
	if err != nil {
		return KeyGauge{}, err
	}
	full := anova
	if !g.Keep {
		anova = anova.Reduced()
	}
	study, err := anova.Study(g.Confidence)
	if err != nil {
		return KeyGauge{}, err
	}
	sd := func(name string) float64 { return study.Component(name).SD() }
	limit := answers.SpecOf(g.limits[key])
	width := toleranceOf(limit, anova.Mean)
	k := KeyGauge{Key: key, Mean: anova.Mean, RepeatSD: sd(gauge.Repeatability), GaugeSD: sd(gauge.Gauge),
		PartSD:      sd(gauge.PartToPart),
		OfTolerance: ofTolerance(study.Component(gauge.Gauge), width), Categories: study.Categories, Readings: readings,
		Interaction: anova.Interaction, InteractionP: answers.Chance(full.Cross.P), Sources: sourcesOf(anova)}
	for _, c := range study.Components {
		k.Components = append(k.Components, GaugeComponent{Code: componentCodes[c.Name],
			SD:       answers.Estimate{Value: c.SD(), Low: math.Sqrt(max(c.Interval.Low, 0)), High: math.Sqrt(max(c.Interval.High, 0))},
			Variance: c.Variance, Raw: c.Raw, Contribution: c.Contribution / 100, OfStudy: c.StudyVariation / 100, OfTolerance: ofTolerance(c, width)})
	}
	k.Risks = g.misjudges(k, limit)
	return k, nil
}

// componentCodes name the components here: what repeats the measurement may be
// a jig or an operator.
var componentCodes = map[string]string{
	gauge.Gauge: "gauge", gauge.Repeatability: "repeatability", gauge.Reproducibility: "reproducibility",
	gauge.Operators: "appraiser", gauge.OperatorPart: "appraiser x part", gauge.PartToPart: "part to part", gauge.TotalVariation: "total",
}

func sourcesOf(c gauge.Crossed) []Source {
	var out []Source
	add := func(code string, s gauge.Source) {
		out = append(out, Source{code, s.DF, s.SS, s.MS(), s.F, answers.Chance(s.P)})
	}
	add("part", c.Part)
	add("appraiser", c.Operator)
	if c.Interaction {
		add("appraiser x part", c.Cross)
	}
	add("repeatability", c.Error)
	add("total", c.All)
	return out
}

// toleranceOf is the width that a gauge is compared with: between two limits,
// or twice from the parts' mean to the one; NaN without a limit.
func toleranceOf(limit capability.Spec, mean float64) float64 {
	switch {
	case limit.TwoSided():
		return limit.Upper - limit.Lower
	case !math.IsInf(limit.Upper, 1):
		return 2 * (limit.Upper - mean)
	case !math.IsInf(limit.Lower, -1):
		return 2 * (mean - limit.Lower)
	}
	return math.NaN()
}

func ofTolerance(c gauge.Component, width float64) float64 {
	if !(width > 0) {
		return math.NaN()
	}
	return c.Tolerance(width) / 100
}

// misjudges takes units for normal with the parts' mean and spread and the
// gauge for normal with its own; parts chosen for their faults say nothing of units.
func (g gauging) misjudges(k KeyGauge, limit capability.Spec) *Misjudged {
	if limit.Check() != nil || k.GaugeSD == 0 || k.PartSD == 0 || g.chosen() {
		return nil
	}
	process := distuv.Normal{Mu: k.Mean, Sigma: k.PartSD}
	tolerance := decide.Interval{Low: limit.Lower, High: limit.Upper}
	risks := decide.Global(process, tolerance, tolerance.Guarded(decide.Band(g.Guard, k.GaugeSD)), decide.Normal(k.GaugeSD))
	return &Misjudged{Accepted: risks.Consumer, Rejected: risks.Producer,
		Bad: max(0, 1-decide.Conforming(process, tolerance))}
}

// readings sorts the values of a key by part, appraiser and repeat.
func (g gauging) readings(key string) ([][][]float64, error) {
	y := make([][][]float64, len(g.Study.Parts))
	for p := range y {
		y[p] = make([][]float64, len(g.Study.Appraisers))
		for o := range y[p] {
			y[p][o] = make([]float64, g.Repeats)
		}
	}
	missing := 0
	for place, p := range g.Study.Plan {
		if p.Repeat >= g.Repeats {
			continue
		}
		v := g.values.Values[key][place]
		if math.IsNaN(v) {
			missing++
		}
		y[p.Part][p.Appraiser][p.Repeat] = v
	}
	if missing > 0 {
		return nil, fmt.Errorf("%d readings are no number (not measured, or over range)", missing)
	}
	return y, nil
}

// show picks the key that is shown in full: the one asked for, or the one where
// the gauge takes most of the tolerance, or else of the total.
func (g *gauging) show() error {
	g.Shown = g.Rows[0]
	most := -1.0
	for _, k := range g.Rows {
		if k.Key == g.Key {
			g.Shown = k
			return nil
		}
		share := k.OfTolerance
		if math.IsNaN(share) {
			share = k.Components[0].OfStudy / 1e4 // only among keys without limits
		}
		if share > most {
			g.Shown, most = k, share
		}
	}
	if g.Key != "" {
		return &lines.MissingKeysError{Missing: []string{g.Key}, Known: g.values.Keys}
	}
	return nil
}
