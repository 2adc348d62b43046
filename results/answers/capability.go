package answers

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/stats"
	"padjig/results/stats/capability"
)

// CapabilityAsked asks how well readings keep to their limits.
type CapabilityAsked struct {
	Selection
	Measure lines.Measure // empty: contact resistance
	Keys    KeyChoice
	Last    int // newest units; 0: [Last]
}

// Capability is the answer, key by key in the product's order.
type Capability struct {
	CapabilityAsked
	Rows        []KeyCapability
	Before      []Sentence // what is to be looked at before any index; Conclusions begin with it
	Conclusions []Sentence
}

// Method is how Pp and Ppk were found.
type Method string

// The methods.
const (
	ByNormal      Method = "normal"
	ByPercentiles Method = "percentiles" // not normal: ISO 22514-4
	NoMethod      Method = "none"        // not normal, and fewer readings than percentiles need
)

// KeyCapability is what is said of one key.
type KeyCapability struct {
	Key       string
	Limits    [2]float64 // 0 for none
	N         int        // readings
	NoReading int        // units that gave none: open, over range, not measured; no index can take them in
	Mean, SD  float64
	// Within is sigma within subgroups of [SubgroupSize] units in a row: their
	// pooled standard deviation.
	Within           float64
	A2               float64 // Anderson-Darling, adjusted
	Straight         float64 // of the probability plot
	NormalP          Chance
	Method           Method
	Cp, Cpk, Pp, Ppk Estimate // Cp and Cpk of normal readings only
	Need             int      // readings that percentiles need, where there are too few
	// Normal is the Ppk that a normal distribution would give. It is shown of readings that are
	// normal only; that they are not never makes a key look better, so it ranks them too.
	Normal  float64
	Outside int // readings
	// Out is the share of units that lie outside the limits or gave no reading, which are not
	// shown to keep them. Its interval is exact (Clopper and Pearson), and it goes with every
	// index, which is of the readings alone.
	Out         Estimate
	ExpectedPPM float64 // of a normal distribution; NaN where it is none
	Values      []float64
	Runs        [2]int64 // numbers of the first and of the last run they are from
	Quantiles   Quantiles
	Remarks     []string // codes of what is to be looked at before its index
	Why         error    // why there is no index
}

// Quantiles are those that a drawing of a distribution shows.
type Quantiles struct{ Least, P5, P25, Median, P75, P95, Most float64 }

// ErrNoLimits is why a key without limits has no capability.
var ErrNoLimits = errors.New("no limits to keep to")

// ErrBounds is why readings of which some are only bounds have no capability.
var ErrBounds = errors.New("some readings are over range: known is only that they are no less, which no index can take in")

// AskCapability compares the spread of readings with their limits. A key that
// cannot be judged has the reason in Why; no key at all is an error, unless units
// gave no reading: that is an answer.
func AskCapability(ctx context.Context, s *results.Store, a CapabilityAsked) (Capability, error) {
	a.Measure, a.Last = cmp.Or(a.Measure, lines.Contact), cmp.Or(a.Last, Last)
	c := Capability{CapabilityAsked: a}
	read, err := a.Read(ctx, s, a.Measure, a.Keys, a.Last)
	if err != nil {
		return c, err
	}
	if read.Bounds > 0 {
		return c, ErrBounds
	}
	c.Rows = capabilities(read.byKey(), a.Level())
	judged := slices.DeleteFunc(slices.Clone(c.Rows), func(k KeyCapability) bool { return k.Why != nil })
	if c.Conclusions = silentWords(c.Rows); len(judged) == 0 && len(c.Rows) > 0 && len(c.Conclusions) == 0 {
		return c, fmt.Errorf("key %s: %w", c.Rows[0].Key, c.Rows[0].Why)
	}
	if len(judged) > 0 {
		jigs, err := a.jigsOf(ctx, s, a.Measure, read.Points)
		if err != nil {
			return c, err
		}
		c.Before = jigs.before(judged)
		for i := range c.Rows {
			c.Rows[i].Remarks = jigs.remarks(c.Rows[i])
		}
		c.Conclusions = append(slices.Clone(c.Before), capabilityWords(judged, c.Rows)...)
	}
	return c, nil
}

func capabilities(list []keyReadings, confidence float64) (out []KeyCapability) {
	for _, k := range list {
		out = append(out, k.capability(confidence))
	}
	return out
}

func (k keyReadings) capability(confidence float64) KeyCapability {
	c := KeyCapability{Key: k.Key, Limits: k.Limits, N: len(k.Values), NoReading: max(k.Over, k.Units-len(k.Values)), Values: k.Values, Runs: k.Runs,
		Quantiles: quantiles(k.Values), Normal: math.NaN(), Out: Unknown(),
		Mean: math.NaN(), SD: math.NaN(), Cp: Unknown(), Cpk: Unknown(), Pp: Unknown(), Ppk: Unknown(), ExpectedPPM: math.NaN()}
	c.Why = c.judge(SpecOf(k.Limits), confidence)
	return c
}

func (c *KeyCapability) judge(spec capability.Spec, confidence float64) error {
	if math.IsInf(spec.Lower, -1) && math.IsInf(spec.Upper, 1) {
		return ErrNoLimits
	}
	for _, v := range c.Values {
		if v < spec.Lower || v > spec.Upper {
			c.Outside++
		}
	}
	c.Out = Selection{Confidence: confidence, Exact: true}.Share(c.Outside+c.NoReading, c.Units())
	normal, err := capability.AndersonDarling(c.Values) // asked first: it says how many readings are needed
	if err != nil {
		return err
	}
	within, err := capability.WithinSubgroups(inSubgroups(c.Values))
	if err != nil {
		return err
	}
	all, err := capability.New(c.Values, within, spec)
	if err != nil {
		return err
	}
	c.Mean, c.SD, c.Within = all.Mean, all.Overall.Value, within.Value
	c.A2, c.NormalP = normal.Adjusted, Chance(normal.P)
	if _, c.Straight, err = capability.ProbabilityPlot(c.Values); err != nil {
		return err
	}
	c.Normal = all.P.PK
	pp := EstimateOf(all.P.P, capability.CpInterval(all.P.P, all.Overall.DF, confidence))
	ppk := EstimateOf(all.P.PK, capability.CpkInterval(all.P.PK, all.N, all.Overall.DF, confidence))
	if normal.P < NormalAlpha {
		return c.byPercentiles(spec, confidence, pp, ppk)
	}
	c.Method, c.ExpectedPPM, c.Pp, c.Ppk = ByNormal, all.ExpectedPPM, pp, ppk
	c.Cp = EstimateOf(all.C.P, capability.CpInterval(all.C.P, within.DF, confidence))
	c.Cpk = EstimateOf(all.C.PK, capability.CpkInterval(all.C.PK, all.N, within.DF, confidence))
	return nil
}

// byPercentiles takes the sample's own outer points, where there are enough readings to bound
// them, and never more than a normal distribution would give: readings spread evenly keep
// further from their limits than normal ones with their standard deviation, but a key is not
// to look better for having failed a test.
func (c *KeyCapability) byPercentiles(spec capability.Spec, confidence float64, pp, ppk Estimate) error {
	p, err := capability.PercentileCapability(c.Values, spec, confidence)
	if few, is := errors.AsType[*TooFewError](err); is {
		c.Method, c.Need = NoMethod, few.Need
		return nil
	}
	if err != nil {
		return err
	}
	c.Method = ByPercentiles
	c.Pp = Estimate{min(p.P.P, pp.Value), math.NaN(), math.NaN()}
	c.Ppk = Estimate{min(p.P.PK, ppk.Value), min(p.PpkInterval.Low, ppk.Low), p.PpkInterval.High}
	return nil
}

// Rank orders keys, the one that keeps least from its limits first: by the Ppk that is shown,
// or that which a normal distribution would give where none is.
func (k KeyCapability) Rank() float64 {
	if k.Method == NoMethod {
		return k.Normal
	}
	return k.Ppk.Value
}

// inSubgroups cuts readings into the full subgroups of units in a row.
func inSubgroups(values []float64) (out [][]float64) {
	for group := range slices.Chunk(values, SubgroupSize) {
		if len(group) == SubgroupSize {
			out = append(out, group)
		}
	}
	return out
}

func quantiles(values []float64) Quantiles {
	q := func(p float64) float64 {
		v, err := stats.Quantile(values, p)
		if err != nil {
			return math.NaN()
		}
		return v
	}
	return Quantiles{q(0), q(0.05), q(0.25), q(0.5), q(0.75), q(0.95), q(1)}
}

// Units are those that have the key, read or not.
func (k KeyCapability) Units() int { return k.N + k.NoReading }

// OutWords are how many lie outside, beside an index: a count, of how many, its share.
func (k KeyCapability) OutWords() []any {
	return []any{k.Outside + k.NoReading, k.Units(), Part(k.Out)}
}

// silentWords say which key most units gave no reading of, nothing where all did.
func silentWords(rows []KeyCapability) []Sentence {
	keys, most := 0, KeyCapability{}
	for _, k := range rows {
		if k.NoReading > 0 && !math.IsNaN(k.Out.Value) {
			if keys++; k.NoReading > most.NoReading {
				most = k
			}
		}
	}
	if keys == 0 {
		return nil
	}
	return []Sentence{Warn("capability.silent", keys, len(rows), most.Key, most.NoReading, most.Units(), Part(most.Out))}
}

func capabilityWords(judged, rows []KeyCapability) (out []Sentence) {
	var worst *KeyCapability
	skewed, need, without := 0, 0, Names(nil)
	for i, k := range judged {
		switch k.Method {
		case NoMethod:
			without, need = append(without, k.Key), max(need, k.Need)
		default:
			if worst == nil || k.Rank() < worst.Rank() {
				worst = &judged[i]
			}
		}
		if k.Method != ByNormal {
			skewed++
		}
	}
	if worst != nil {
		out = append(out, Say("capability.worst", append([]any{worst.Key, Number{worst.Ppk.Value, 2}, Number{worst.Ppk.Low, 2},
			Number{worst.Ppk.High, 2}, worst.N, Number{GoodPpk, 2}}, worst.OutWords()...)...))
	}
	out = append(out, silentWords(rows)...)
	if skewed > 0 {
		out = append(out, Warn("capability.skewed", skewed, len(judged), Number{NormalAlpha, 2}))
	}
	if len(without) > 0 {
		out = append(out, Warn("capability.noindex", need, without))
	}
	return append(out, Say("capability.within", SubgroupSize))
}

// Plot is the probability plot of a key's readings: normal ones lie on the line.
func (k KeyCapability) Plot() []capability.PlotPoint {
	points, _, err := capability.ProbabilityPlot(k.Values)
	if err != nil {
		return nil
	}
	return points
}

// Histogram counts readings in so many bins at most.
func (k KeyCapability) Histogram(bins int) stats.Histogram { return histogram(k.Values, bins) }

func histogram(values []float64, bins int) stats.Histogram {
	h, err := stats.NewHistogram(values, bins)
	if err != nil {
		return stats.Histogram{}
	}
	return h
}
