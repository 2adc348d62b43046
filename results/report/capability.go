package report

import (
	"errors"
	"fmt"
	"html/template"
	"math"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
)

// KeyValues is the readings of one key with its limits.
type KeyValues struct {
	Key    string
	Limits [2]float64 // least and most; 0 for none
	Values []float64  // in the order of the runs
	Beyond int        // readings beyond the range, which no index can take in
}

// notNormal is below which probability readings are not taken for normal.
const notNormal = 0.05

// resamples and seed of the bootstrap: the same answer each time.
const (
	resamples     = 1000
	bootstrapSeed = 1
)

// spec gives the limits for an index; a least limit of 0 is no limit.
func (k KeyValues) spec() stats.Spec {
	s := stats.Spec{Lower: math.Inf(-1), Upper: math.Inf(1)}
	if k.Limits[0] > 0 {
		s.Lower = k.Limits[0]
	}
	if k.Limits[1] > 0 {
		s.Upper = k.Limits[1]
	}
	return s
}

// Capability reports how well each key keeps to its limits. A key that cannot
// be judged has the reason in its row.
func Capability(a Asked, what, unit string, keys []KeyValues) (Document, error) {
	d := a.document("Capability of "+what, results.Mixture{})
	t := Table{Name: "capability", Title: fmt.Sprintf("Capability, %s intervals", percent(a.Confidence)), Columns: []Column{
		{Name: "key", Head: "key"}, {Name: "n", Head: "n"}, {Name: "mean", Head: "mean", Unit: unit, Digits: 2}, {Name: "sd", Head: "sd", Digits: 2},
		{Name: "lower", Head: "least", Digits: 1, Minor: true}, {Name: "upper", Head: "most", Digits: 1, Minor: true},
		{Name: "normal_p", Head: "normal?"},
		{Name: "cpk", Head: "Cpk", Digits: 2, Minor: true}, {Name: "ppk", Head: "Ppk", Digits: 2}, {Name: "cp", Head: "Cp", Digits: 2, Minor: true}, {Name: "pp", Head: "Pp", Digits: 2, Minor: true},
		{Name: "method", Head: "method"}, {Name: "tails_seen", Head: "tails seen", Minor: true}, {Name: "outside", Head: "outside", Minor: true}, {Name: "expected_ppm", Head: "expected ppm", Digits: 1, Minor: true}, {Name: "beyond", Head: "open", Minor: true}}}
	var judged []capable
	for _, k := range keys {
		c, err := judgeKey(k, a.Confidence)
		if err != nil {
			t.Rows = append(t.Rows, []any{k.Key, len(k.Values), nil, nil, limit(k.Limits[0]), limit(k.Limits[1]), nil, nil, nil, nil, nil, err.Error(), nil, nil, nil, k.Beyond})
			continue
		}
		judged = append(judged, c)
		t.Rows = append(t.Rows, c.row())
	}
	if len(judged) == 0 && len(keys) > 0 {
		_, err := judgeKey(keys[0], a.Confidence)
		return d, fmt.Errorf("key %s: %w", keys[0].Key, err)
	}
	d.Tables = []Table{t}
	d.Charts = []Chart{{Title: "Readings and limits", SVG: func() template.HTML { return capabilityChart(judged, what, unit) }}}
	d.Conclusion = capabilityWords(judged)
	return d, nil
}

func limit(v float64) any {
	if v <= 0 {
		return nil
	}
	return v
}

// capable is what is said of one key.
type capable struct {
	KeyValues
	stats.Capability
	normal      stats.Normality
	percentiles *stats.Percentiles // nil where the readings pass for normal
	confidence  float64
}

var errNoLimits = errors.New("no limits to keep to")

func judgeKey(k KeyValues, confidence float64) (capable, error) {
	c := capable{KeyValues: k, confidence: confidence}
	spec := k.spec()
	if math.IsInf(spec.Lower, -1) && math.IsInf(spec.Upper, 1) {
		return c, errNoLimits
	}
	within, err := stats.WithinNeighbours(k.Values)
	if err != nil {
		return c, err
	}
	if c.Capability, err = stats.NewCapability(k.Values, within, spec); err != nil {
		return c, err
	}
	if c.normal, err = stats.AndersonDarling(k.Values); err != nil {
		return c, err
	}
	if c.normal.P < notNormal {
		p, err := stats.PercentileCapability(k.Values, spec, confidence, resamples, bootstrapSeed)
		if err != nil {
			return c, err
		}
		c.percentiles = &p
	}
	return c, nil
}

// worst is the index that counts, with its interval.
func (c capable) worst() Estimate {
	if c.percentiles != nil {
		return Estimate{c.percentiles.Did.Worst, c.percentiles.Worst.Low, c.percentiles.Worst.High}
	}
	i := stats.CpkInterval(c.Did.Worst, c.Capability.N, c.Overall.DF, c.confidence)
	return Estimate{c.Did.Worst, i.Low, i.High}
}

func (c capable) row() []any {
	w := stats.CpkInterval(c.Could.Worst, c.Capability.N, c.Within.DF, c.confidence)
	method, pp, seen := "normal", any(c.Did.Both), any(nil)
	if c.percentiles != nil {
		method, pp = "percentiles", any(c.percentiles.Did.Both)
		seen = c.percentiles.TailsSeen
	}
	return []any{c.Key, c.Capability.N, c.Mean, c.Overall.Value, limit(c.Limits[0]), limit(c.Limits[1]), Chance(c.normal.P),
		Estimate{c.Could.Worst, w.Low, w.High}, c.worst(), c.Could.Both, pp, method, seen, c.ObservedOut, c.ExpectedPPM, c.Beyond}
}

func capabilityWords(judged []capable) []string {
	worst := judged[0]
	skewed := 0
	for _, c := range judged {
		if c.worst().Value < worst.worst().Value {
			worst = c
		}
		if c.percentiles != nil {
			skewed++
		}
	}
	w := worst.worst()
	words := []string{fmt.Sprintf("Nearest to its limit is key %s: Ppk %.2f (%.2f to %.2f) from %d units. Common practice asks for 1.33 or more of a process that goes on; judge by the lower end of the interval.",
		worst.Key, w.Value, w.Low, w.High, worst.Capability.N)}
	if skewed > 0 {
		words = append(words, fmt.Sprintf("%d of %d keys are not normally distributed (Anderson-Darling, p below %.2g): for those Ppk comes from percentiles, its interval from a bootstrap, and the ppm expected of a normal distribution mean nothing. Where the tails were not seen, the outer percentiles are little more than the smallest and largest reading. Look first whether lots or jigs are mixed.",
			skewed, len(judged), notNormal))
	}
	return append(words, "Cpk takes the spread between neighbours only, Ppk all of it: where Ppk is much less, the process wandered in between. Neither says anything about what is not in these runs, and both hold readings, not true values: the gauge's own spread is in them.")
}

func capabilityChart(judged []capable, what, unit string) template.HTML {
	s := chart.Spreads{Frame: chart.Frame{ID: "capability", Title: what + " by key", Desc: "Middle half, and nearly all, of the readings of each key, with its limits.", Width: 720},
		X: chart.Axis{Label: unit}}
	for _, c := range judged {
		s.Rows = append(s.Rows, c.spread())
	}
	return s.SVG()
}

func (c capable) spread() chart.Spread {
	q := func(p float64) float64 {
		v, err := stats.Quantile(c.Values, p)
		if err != nil {
			return math.NaN()
		}
		return v
	}
	row := chart.Spread{Name: c.Key, Text: fmt.Sprintf("Ppk %.2f", c.worst().Value), Least: q(0), P5: q(0.05), P25: q(0.25),
		P50: q(0.5), P75: q(0.75), P95: q(0.95), Most: q(1), Lower: math.NaN(), Upper: math.NaN()}
	if c.Limits[0] > 0 {
		row.Lower = c.Limits[0]
	}
	if c.Limits[1] > 0 {
		row.Upper = c.Limits[1]
	}
	return row
}
