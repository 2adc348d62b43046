package gauge

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/care"
	"padjig/results/lines"
	"padjig/results/stats"
	"padjig/results/stats/compare"
	"padjig/results/stats/control"
	"padjig/results/stats/gauge"
	"padjig/results/studies"
	"padjig/sequence"
)

// PlanStudy draws the order of a study: every part by every appraiser so many times.
func PlanStudy(parts, appraisers, repeats int, seed uint64) ([]studies.Planned, error) {
	order, err := gauge.PlanStudy(parts, appraisers, repeats, seed)
	var out []studies.Planned
	for _, r := range order {
		out = append(out, studies.Planned{Part: r.Part, Appraiser: r.Operator, Repeat: r.Repeat})
	}
	return out, err
}

// LinearityAsked asks how a jig's deviations change with the size of what it reads.
type LinearityAsked struct {
	Jig        string
	Simulated  bool
	Last       int     // verifications; 0: all
	Confidence float64 // 0: [Confidence]
}

// Linearity is the bias on each reference resistor, and per range of the jig
// the line through the biases.
type Linearity struct {
	LinearityAsked
	Readings    int
	Biases      []Bias
	Lines       []LinearityLine
	Conclusions []answers.Sentence
}

// Bias is the mean of readings less the certificate.
type Bias struct {
	Range     float64 // reference resistor of the jig, ohm
	Resistor  string
	Certified float64
	N         int
	Bias      answers.Estimate // without interval for one reading
	OfValue   float64
	P         answers.Chance // of none; NaN for one reading
}

// LinearityLine is the line through the biases of a range.
type LinearityLine struct {
	Range            float64
	N                int
	Slope, Intercept answers.Estimate
	P                answers.Chance
	Why              error
}

// ErrNoVerification is returned for a jig that was never verified.
var ErrNoVerification = errors.New("no stored verification")

// verified is one reading of a reference resistor.
type verified struct {
	rng                 float64
	resistor            string
	certified, measured float64
}

// AskLinearity takes the stored verifications of a jig.
func AskLinearity(ctx context.Context, s *results.Store, a LinearityAsked) (Linearity, error) {
	a.Confidence = cmp.Or(a.Confidence, answers.Confidence)
	list, err := s.Care.Calibrations(ctx, a.Jig, a.Simulated)
	if err != nil {
		return Linearity{LinearityAsked: a}, err
	}
	list = slices.DeleteFunc(list, func(c care.StoredCalibration) bool { return c.Kind != sequence.KindVerify })
	if a.Last > 0 {
		list = list[max(0, len(list)-a.Last):]
	}
	var readings []verified
	for _, c := range list {
		for _, r := range c.Readings {
			readings = append(readings, verified{float64(r.Reference), r.Resistor, float64(r.Certified.Value),
				float64(r.Measured.Value)})
		}
	}
	return linearity(a, readings)
}

func linearity(a LinearityAsked, readings []verified) (Linearity, error) {
	l := Linearity{LinearityAsked: a, Readings: len(readings)}
	if len(readings) == 0 {
		return l, ErrNoVerification
	}
	groups, ranges := map[verified][]float64{}, map[float64][2][]float64{}
	for _, r := range readings {
		of := ranges[r.rng]
		ranges[r.rng] = [2][]float64{append(of[0], r.certified), append(of[1], r.measured)}
		value := r.measured
		r.measured = 0
		groups[r] = append(groups[r], value)
	}
	for at, values := range groups {
		l.Biases = append(l.Biases, biasOf(at, values, a.Confidence))
	}
	slices.SortFunc(l.Biases, func(a, b Bias) int {
		return cmp.Or(cmp.Compare(a.Range, b.Range), cmp.Compare(a.Certified, b.Certified),
			cmp.Compare(a.Resistor, b.Resistor))
	})
	for rng, of := range ranges {
		line := LinearityLine{Range: rng, N: len(of[0]), Slope: answers.Unknown(), Intercept: answers.Unknown(), P: answers.Chance(math.NaN())}
		fit, err := gauge.Linearity(of[0], of[1], a.Confidence)
		if errors.Is(err, stats.ErrNoSpread) {
			err = errors.New("one resistor only")
		}
		if line.Why = err; err == nil {
			line.N, line.P = fit.N, answers.Chance(fit.SlopeP)
			line.Slope, line.Intercept = answers.EstimateOf(fit.Slope, fit.SlopeInterval), answers.EstimateOf(fit.Intercept,
				fit.InterceptInterval)
		}
		l.Lines = append(l.Lines, line)
	}
	slices.SortFunc(l.Lines, func(a, b LinearityLine) int { return cmp.Compare(a.Range, b.Range) })
	l.Conclusions = []answers.Sentence{answers.Say("linearity.words")}
	return l, nil
}

func biasOf(at verified, values []float64, confidence float64) Bias {
	b := Bias{Range: at.rng, Resistor: at.resistor, Certified: at.certified, N: len(values), P: answers.Chance(math.NaN())}
	if found, err := gauge.NewBias(values, at.certified, confidence); err == nil {
		b.Bias, b.P = answers.EstimateOf(found.Mean, found.Interval), answers.Chance(found.P)
	} else {
		b.Bias = answers.Estimate{Value: values[0] - at.certified, Low: math.NaN(), High: math.NaN()}
	}
	b.OfValue = b.Bias.Value / at.certified
	return b
}

// StabilityAsked asks whether a jig's readings of a reference unit wander.
type StabilityAsked struct {
	Jig, Unit  string
	Simulated  bool
	Measure    lines.Measure // empty: contact resistance
	Confidence float64       // 0: [Confidence]
}

// Stability is the answer, key by key.
type Stability struct {
	StabilityAsked
	Checks      int
	From, To    time.Time
	Rows        []KeyStability
	Conclusions []answers.Sentence
}

// KeyStability is how a key was read from check to check.
type KeyStability struct {
	Key      string
	N        int
	Mean, SD float64          // from check to check
	PerDay   answers.Estimate // trend
	P        answers.Chance   // of no trend, adjusted for all keys (Holm)
	Outside  int              // checks beyond the control limits of all of them
	Limited  bool             // there are such limits
	Why      error
}

// Why there is no stability to tell of.
var ErrNoChecks = errors.New("no good check")

// AskStability takes the checks of a good reference unit on a jig.
func AskStability(ctx context.Context, s *results.Store, a StabilityAsked) (Stability, error) {
	a.Measure, a.Confidence = cmp.Or(a.Measure, lines.Contact), cmp.Or(a.Confidence, answers.Confidence)
	values, err := s.Studies.ReferenceValues(ctx, a.Jig, a.Unit, a.Simulated, a.Measure)
	if err != nil {
		return Stability{StabilityAsked: a}, err
	}
	return stability(a, values)
}

func stability(a StabilityAsked, values studies.Repeated) (Stability, error) {
	st := Stability{StabilityAsked: a, Checks: len(values.Runs)}
	switch {
	case st.Checks == 0:
		return st, ErrNoChecks
	case st.Checks < answers.LeastChecks:
		return st, fmt.Errorf("to see whether %s wanders on jig %s: %w", a.Unit, a.Jig,
			&answers.TooFewError{Have: st.Checks, Need: answers.LeastChecks, What: "good checks"})
	}
	st.From, st.To = values.Times[0], values.Times[st.Checks-1]
	var chances []float64
	for _, key := range values.Keys {
		k, p := stabilityOf(key, values.Values[key], values.Times, a.Confidence)
		st.Rows, chances = append(st.Rows, k), append(chances, p)
	}
	wandering := 0
	for i, p := range compare.Holm(chances) {
		if st.Rows[i].P = answers.Chance(p); p < 1-a.Confidence {
			wandering++
		}
	}
	st.Conclusions = []answers.Sentence{answers.Say("stability.words", wandering, len(st.Rows))}
	if wandering > 0 {
		st.Conclusions[0].Tone = answers.Attention
	}
	return st, nil
}

func stabilityOf(key string, all []float64, times []time.Time, confidence float64) (KeyStability, float64) {
	var days, values []float64
	for i, v := range all {
		if !math.IsNaN(v) {
			days, values = append(days, times[i].Sub(times[0]).Hours()/24), append(values, v)
		}
	}
	nan := math.NaN()
	k := KeyStability{Key: key, N: len(values), Mean: nan, SD: nan, PerDay: answers.Unknown(), P: answers.Chance(nan)}
	base, err := control.NewIndividuals(values)
	if err != nil {
		k.Why = err
		return k, nan
	}
	k.Mean, k.SD, k.Limited = base.Mean, base.Sigma, true
	for _, v := range values {
		if base.Limits().Out(v) {
			k.Outside++
		}
	}
	line, err := gauge.FitLine(days, values, confidence)
	if err != nil {
		k.Why = fmt.Errorf("no trend: %w", err)
		return k, nan
	}
	k.PerDay = answers.EstimateOf(line.Slope, line.SlopeInterval)
	return k, line.SlopeP
}
