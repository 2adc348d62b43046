// Package gauge is how far a measurement can be trusted: crossed studies of parts and
// operators, agreement of verdicts, bias and linearity.
package gauge

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
)

// A PlannedReading is one measurement of a crossed gauge study, by index of
// part, operator (or jig) and repeat.
type PlannedReading struct{ Part, Operator, Repeat int }

// PlanStudy lays out a crossed study: every operator measures every part in
// every repeat, in an order drawn anew for each repeat, so that drift during
// the study falls on parts and operators alike and nobody remembers a reading.
// The same seed gives the same plan. Errors: fewer than two parts, operators
// or repeats - without two of each, a component cannot be told apart.
func PlanStudy(parts, operators, repeats int, seed uint64) ([]PlannedReading, error) {
	if err := checkDesign(parts, operators, repeats); err != nil {
		return nil, err
	}
	source := rand.New(rand.NewPCG(seed, 0))
	plan := make([]PlannedReading, 0, parts*operators*repeats)
	for r := range repeats {
		start := len(plan)
		for p := range parts {
			for o := range operators {
				plan = append(plan, PlannedReading{Part: p, Operator: o, Repeat: r})
			}
		}
		block := plan[start:]
		source.Shuffle(len(block), func(i, j int) { block[i], block[j] = block[j], block[i] })
	}
	return plan, nil
}

func checkDesign(parts, operators, repeats int) error {
	var problems []error
	for _, d := range []struct {
		name string
		n    int
	}{{"parts", parts}, {"operators", operators}, {"repeats", repeats}} {
		if d.n < 2 {
			problems = append(problems, &stats.TooFewError{Have: d.n, Need: 2, What: d.name})
		}
	}
	return errors.Join(problems...)
}

// A Source is a line of an analysis of variance.
type Source struct {
	SS   float64
	DF   int
	F, P float64 // NaN where the line is not tested
}

// MS is the mean square.
func (s Source) MS() float64 { return s.SS / float64(s.DF) }

// tested adds F and P against another line.
func (s Source) tested(against Source) Source {
	s.F = s.MS() / against.MS()
	s.P = numeric.FSurvival(s.F, float64(s.DF), float64(against.DF))
	return s
}

// Crossed is the analysis of variance of a crossed study, both random.
type Crossed struct {
	Parts, Operators, Repeats int
	Mean                      float64
	// Interaction says whether parts x operators is a line of its own; else
	// it is pooled into Error.
	Interaction                       bool
	Part, Operator, Cross, Error, All Source // Cross is zero when pooled
}

// NewCrossed analyses readings[part][operator][repeat] with the interaction
// in the model: parts and operators are tested against it (e-Handbook 2.4,
// Montgomery, Design and Analysis of Experiments, 13.1). Errors: fewer than two of
// anything, an unbalanced design, not finite, no spread at all.
func NewCrossed(readings [][][]float64) (Crossed, error) {
	c, err := crossedSums(readings)
	if err != nil {
		return Crossed{}, err
	}
	if c.All.SS == 0 {
		return Crossed{}, stats.ErrNoSpread
	}
	c.Interaction = true
	c.Part, c.Operator, c.Cross = c.Part.tested(c.Cross), c.Operator.tested(c.Cross), c.Cross.tested(c.Error)
	return c, nil
}

// Pooled is the analysis without interaction: its line joins the error. Usual
// when its P is above 0.25, which keeps a real one from hiding there.
func (c Crossed) Pooled() Crossed {
	if !c.Interaction {
		return c
	}
	c.Error = Source{SS: c.Error.SS + c.Cross.SS, DF: c.Error.DF + c.Cross.DF, F: math.NaN(), P: math.NaN()}
	c.Cross, c.Interaction = Source{}, false
	c.Part, c.Operator = c.Part.tested(c.Error), c.Operator.tested(c.Error)
	return c
}

// PoolAbove is the P of the interaction above which it is pooled, after the
// automotive industry's measurement guide.
const PoolAbove = 0.25

// Reduced pools the interaction when its P says that nothing is lost by it.
func (c Crossed) Reduced() Crossed {
	if c.Interaction && c.Cross.P > PoolAbove {
		return c.Pooled()
	}
	return c
}

func crossedSums(y [][][]float64) (Crossed, error) {
	all, err := balanced(y)
	if err != nil {
		return Crossed{}, err
	}
	p, o, r := len(y), len(y[0]), len(y[0][0])
	hi, lo := numeric.Center(all)
	byPart, byOperator := make([][]float64, p), make([][]float64, o)
	var cells, errs []float64
	for i, part := range y {
		for j, repeats := range part {
			d := numeric.Deviations(repeats, hi, lo)
			byPart[i] = append(byPart[i], d...)
			byOperator[j] = append(byOperator[j], d...)
			m := numeric.Mean(d)
			cells = append(cells, m)
			errs = append(errs, numeric.SumOfSquares(d))
		}
	}
	parts, operators := means(byPart), means(byOperator)
	var cross []float64
	for i := range p {
		for j := range o {
			cross = append(cross, cells[i*o+j]-parts[i]-operators[j])
		}
	}
	nan := math.NaN()
	return Crossed{
		Parts: p, Operators: o, Repeats: r, Mean: hi + lo,
		Part:     Source{float64(o*r) * numeric.Sum(numeric.Squares(parts)), p - 1, nan, nan},
		Operator: Source{float64(p*r) * numeric.Sum(numeric.Squares(operators)), o - 1, nan, nan},
		Cross:    Source{float64(r) * numeric.Sum(numeric.Squares(cross)), (p - 1) * (o - 1), nan, nan},
		Error:    Source{numeric.Sum(errs), p * o * (r - 1), nan, nan},
		All:      Source{numeric.Sum(numeric.Squares(numeric.Deviations(all, hi, lo))), p*o*r - 1, nan, nan},
	}, nil
}

func means(groups [][]float64) []float64 {
	m := make([]float64, len(groups))
	for i, g := range groups {
		m[i] = numeric.Mean(g)
	}
	return m
}

// balanced reports what keeps the design from being crossed and balanced, and
// gives all readings in a row.
func balanced(y [][][]float64) ([]float64, error) {
	if len(y) == 0 || len(y[0]) == 0 {
		return nil, stats.ErrEmpty
	}
	if err := checkDesign(len(y), len(y[0]), len(y[0][0])); err != nil {
		return nil, err
	}
	var all []float64
	for i, part := range y {
		if len(part) != len(y[0]) {
			return nil, fmt.Errorf("part %d was measured by %d operators, part 1 by %d: the study is not balanced", i+1, len(part), len(y[0]))
		}
		for j, repeats := range part {
			if len(repeats) != len(y[0][0]) {
				return nil, fmt.Errorf("part %d has %d readings by operator %d where there should be %d: the study is not balanced", i+1, len(repeats), j+1, len(y[0][0]))
			}
			all = append(all, repeats...)
		}
	}
	return all, stats.Finite(all)
}

// A Component is one part of the variance of readings.
type Component struct {
	Name string
	// Variance has a negative estimate set to 0, the usual treatment; Raw
	// keeps it, and a large negative one says that the model does not fit.
	Variance, Raw float64
	SE            float64        // of Raw, for large samples; restricted likelihood gives the same
	Interval      stats.Interval // for the variance, cut at 0
	// Of the total: of the variance, and of the standard deviation. In
	// percent; the latter do not add up.
	Contribution, StudyVariation float64
}

// SD is the component's standard deviation.
func (c Component) SD() float64 { return math.Sqrt(c.Variance) }

// Tolerance is 6 SD in per cent of the tolerance width, for two limits. For
// one limit give the distance from the mean of the process to it, doubled.
func (c Component) Tolerance(width float64) float64 { return 100 * 6 * c.SD() / width }

// Names of the components.
const (
	Repeatability   = "repeatability"
	OperatorPart    = "operator x part"
	Operators       = "operator"
	Reproducibility = "reproducibility"
	Gauge           = "gauge"
	PartToPart      = "part to part"
	TotalVariation  = "total"
)

// Study is what a crossed study says of the gauge.
type Study struct {
	Anova      Crossed
	Components []Component // gauge, repeatability, reproducibility, operator, (operator x part,) part to part, total
	// Categories is how many groups of parts the gauge can tell apart,
	// sqrt(2) part/gauge, cut to a whole number and at least 1; Ratio is it
	// uncut. Some take 1.41 for the root.
	Categories int
	Ratio      float64
}

// Component finds one by name.
func (g Study) Component(name string) Component {
	for _, c := range g.Components {
		if c.Name == name {
			return c
		}
	}
	return Component{}
}

// Study turns the mean squares into components. Their intervals are exact for
// repeatability (chi-square) and else modified large-sample ones: Graybill and
// Wang (1980) for sums, Ting et al. (1990) where a mean square is subtracted,
// as Burdick, Borror and Montgomery (2005) collect them for gauge studies.
func (c Crossed) Study(confidence float64) (Study, error) {
	if err := stats.CheckConfidence(confidence); err != nil {
		return Study{}, err
	}
	g := Study{Anova: c}
	for _, part := range c.combinations() {
		g.Components = append(g.Components, Component{
			Name: part.name, Raw: part.estimate(), SE: part.standardError(), Interval: part.interval(confidence),
		})
	}
	g.settle()
	for i := range g.Components { // what was cut at zero is a part of a sum that is not
		c := &g.Components[i]
		c.Interval.Low, c.Interval.High = min(c.Interval.Low, c.Variance), max(c.Interval.High, c.Variance)
	}
	total := g.Component(TotalVariation).Variance
	for i := range g.Components {
		share := g.Components[i].Variance / total
		g.Components[i].Contribution, g.Components[i].StudyVariation = 100*share, 100*math.Sqrt(share)
	}
	g.Ratio = math.Sqrt(2 * g.Component(PartToPart).Variance / g.Component(Gauge).Variance)
	g.Categories = 1
	if !math.IsInf(g.Ratio, 0) && !math.IsNaN(g.Ratio) {
		g.Categories = max(1, int(g.Ratio))
	}
	return g, nil
}

// settle sets negative components to zero and adds the sums up from what is
// left, so that they are sums of what is shown.
func (g *Study) settle() {
	v := map[string]float64{}
	for _, c := range g.Components {
		v[c.Name] = max(0, c.Raw)
	}
	v[Reproducibility] = v[Operators] + v[OperatorPart]
	v[Gauge] = v[Repeatability] + v[Reproducibility]
	v[TotalVariation] = v[Gauge] + v[PartToPart]
	for i, c := range g.Components {
		g.Components[i].Variance = v[c.Name]
	}
}

// combination is a variance as a sum of mean squares with factors.
type combination struct {
	name  string
	terms []weighted
}

type weighted struct {
	factor float64
	Source
}

// combinations are the method-of-moments components.
func (c Crossed) combinations() []combination {
	p, o, r := float64(c.Parts), float64(c.Operators), float64(c.Repeats)
	if !c.Interaction {
		return []combination{
			{Gauge, []weighted{{1 / (p * r), c.Operator}, {1 - 1/(p*r), c.Error}}},
			{Repeatability, []weighted{{1, c.Error}}},
			{Reproducibility, []weighted{{1 / (p * r), c.Operator}, {-1 / (p * r), c.Error}}},
			{Operators, []weighted{{1 / (p * r), c.Operator}, {-1 / (p * r), c.Error}}},
			{PartToPart, []weighted{{1 / (o * r), c.Part}, {-1 / (o * r), c.Error}}},
			{TotalVariation, []weighted{{1 / (o * r), c.Part}, {1 / (p * r), c.Operator}, {1 - 1/(o*r) - 1/(p*r), c.Error}}},
		}
	}
	return []combination{
		{Gauge, []weighted{{1 / (p * r), c.Operator}, {(p - 1) / (p * r), c.Cross}, {(r - 1) / r, c.Error}}},
		{Repeatability, []weighted{{1, c.Error}}},
		{Reproducibility, []weighted{{1 / (p * r), c.Operator}, {(p - 1) / (p * r), c.Cross}, {-1 / r, c.Error}}},
		{Operators, []weighted{{1 / (p * r), c.Operator}, {-1 / (p * r), c.Cross}}},
		{OperatorPart, []weighted{{1 / r, c.Cross}, {-1 / r, c.Error}}},
		{PartToPart, []weighted{{1 / (o * r), c.Part}, {-1 / (o * r), c.Cross}}},
		{TotalVariation, []weighted{{1 / (o * r), c.Part}, {1 / (p * r), c.Operator}, {(p*o - p - o) / (p * o * r), c.Cross}, {(r - 1) / r, c.Error}}},
	}
}

func (c combination) estimate() float64 {
	total := 0.0
	for _, t := range c.terms {
		total += t.factor * t.MS()
	}
	return total
}

// standardError takes the variance of a mean square as 2 MS^2/df.
func (c combination) standardError() float64 {
	v := 0.0
	for _, t := range c.terms {
		v += 2 * math.Pow(t.factor*t.MS(), 2) / float64(t.DF)
	}
	return math.Sqrt(v)
}

// interval is the modified large-sample one, cut at 0.
func (c combination) interval(confidence float64) stats.Interval {
	risk := (1 - confidence) / 2
	at := c.estimate()
	return stats.Interval{
		Low:        max(0, at-math.Sqrt(max(0, c.deviation(risk)))),
		High:       max(0, at+math.Sqrt(max(0, c.deviation(1-risk)))),
		Confidence: confidence,
	}
}

// deviation is the square of the interval's arm: the lower one for a small
// risk, the upper one for 1 - risk. Each mean square's own arm enters squared,
// and each pair of an added and a subtracted one once more, with the factor
// that makes the interval of their ratio exact. With quantiles at 1 - risk in
// place of risk, the formula for the lower arm is that for the upper.
func (c combination) deviation(risk float64) float64 {
	total := 0.0
	for _, a := range c.terms {
		arm := a.arm(risk)
		if a.factor < 0 {
			arm = a.arm(1 - risk)
		}
		total += arm * arm
		for _, b := range c.terms {
			if a.factor > 0 && b.factor < 0 {
				total += pairFactor(a.DF, b.DF, risk) * a.factor * a.MS() * -b.factor * b.MS()
			}
		}
	}
	return total
}

// arm is factor MS (1 - 1/F), F the upper risk point of chi2(df)/df.
func (w weighted) arm(risk float64) float64 {
	return math.Abs(w.factor) * w.MS() * (1 - 1/meanChi(w.DF, risk))
}

func meanChi(df int, upper float64) float64 {
	return numeric.ChiQuantile(1-upper, float64(df)) / float64(df)
}

func pairFactor(q, r int, risk float64) float64 {
	f := distuv.F{D1: float64(q), D2: float64(r)}.Quantile(1 - risk)
	own, other := 1-1/meanChi(q, risk), 1/meanChi(r, 1-risk)-1
	return ((f-1)*(f-1) - own*own*f*f - other*other) / f
}

// standard deviations
