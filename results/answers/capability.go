package answers

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

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
	// Rough leaves out what takes long: the intervals of keys that are not normal.
	Rough bool
}

// Capability is the answer, key by key in the product's order.
type Capability struct {
	CapabilityAsked
	Rows        []KeyCapability
	Conclusions []Sentence
}

// Method is how Pp and Ppk were found.
type Method string

// The methods.
const (
	ByNormal      Method = "normal"
	ByPercentiles Method = "percentiles" // not normal: ISO 22514-4
)

// KeyCapability is what is said of one key.
type KeyCapability struct {
	Key      string
	Limits   [2]float64 // 0 for none
	N, Over  int        // readings; over range, which no index can take in
	Mean, SD float64
	// Within is sigma within subgroups of [SubgroupSize] units in a row: their
	// pooled standard deviation.
	Within           float64
	A2               float64 // Anderson-Darling, adjusted
	Straight         float64 // of the probability plot
	NormalP          Chance
	Method           Method
	Cp, Cpk, Pp, Ppk Estimate
	TailsSeen        bool // by percentiles: enough readings for the outer ones
	Outside          int
	ExpectedPPM      float64 // of a normal distribution; NaN where it is none
	Values           []float64
	Runs             [2]int64 // numbers of the first and of the last run they are from
	Quantiles        Quantiles
	Why              error // why there is no index
}

// Quantiles are those that a drawing of a distribution shows.
type Quantiles struct{ Least, P5, P25, Median, P75, P95, Most float64 }

// ErrNoLimits is why a key without limits has no capability.
var ErrNoLimits = errors.New("no limits to keep to")

// ErrBounds is why readings of which some are only bounds have no capability.
var ErrBounds = errors.New("some readings are over range: known is only that they are no less, which no index can take in")

// AskCapability compares the spread of readings with their limits. A key that
// cannot be judged has the reason in Why; no key at all is an error.
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
	c.Rows = capabilities(read.byKey(), a.Level(), a.Rough)
	judged := slices.DeleteFunc(slices.Clone(c.Rows), func(k KeyCapability) bool { return k.Why != nil })
	if len(judged) == 0 && len(c.Rows) > 0 {
		return c, fmt.Errorf("key %s: %w", c.Rows[0].Key, c.Rows[0].Why)
	}
	if len(judged) > 0 {
		c.Conclusions = capabilityWords(judged)
	}
	return c, nil
}

// capabilities judges every key, side by side: a bootstrap takes a while.
func capabilities(list []keyReadings, confidence float64, rough bool) []KeyCapability {
	out := make([]KeyCapability, len(list))
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	var all sync.WaitGroup
	for i, k := range list {
		all.Go(func() {
			free <- struct{}{}
			out[i] = k.capability(confidence, rough)
			<-free
		})
	}
	all.Wait()
	return out
}

func (k keyReadings) capability(confidence float64, rough bool) KeyCapability {
	c := KeyCapability{Key: k.Key, Limits: k.Limits, N: len(k.Values), Over: k.Over, Values: k.Values, Runs: k.Runs,
		Quantiles: quantiles(k.Values),
		Mean:      math.NaN(), SD: math.NaN(), Cp: Unknown(), Cpk: Unknown(), Pp: Unknown(), Ppk: Unknown(), ExpectedPPM: math.NaN()}
	c.Why = c.judge(SpecOf(k.Limits), confidence, rough)
	return c
}

func (c *KeyCapability) judge(spec capability.Spec, confidence float64, rough bool) error {
	if math.IsInf(spec.Lower, -1) && math.IsInf(spec.Upper, 1) {
		return ErrNoLimits
	}
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
	c.Mean, c.SD, c.Within, c.Outside = all.Mean, all.Overall.Value, within.Value, all.ObservedOut
	c.A2, c.NormalP = normal.Adjusted, Chance(normal.P)
	if _, c.Straight, err = capability.ProbabilityPlot(c.Values); err != nil {
		return err
	}
	c.Cp = EstimateOf(all.C.P, capability.CpInterval(all.C.P, within.DF, confidence))
	c.Cpk = EstimateOf(all.C.PK, capability.CpkInterval(all.C.PK, all.N, within.DF, confidence))
	if normal.P < NormalAlpha {
		return c.byPercentiles(spec, confidence, rough)
	}
	c.Method, c.ExpectedPPM = ByNormal, all.ExpectedPPM
	c.Pp = EstimateOf(all.P.P, capability.CpInterval(all.P.P, all.Overall.DF, confidence))
	c.Ppk = EstimateOf(all.P.PK, capability.CpkInterval(all.P.PK, all.N, all.Overall.DF, confidence))
	return nil
}

func (c *KeyCapability) byPercentiles(spec capability.Spec, confidence float64, rough bool) error {
	again := resamples
	if rough {
		again = fewResamples
	}
	p, err := capability.PercentileCapability(c.Values, spec, confidence, again, bootstrapSeed)
	if err != nil {
		return err
	}
	c.Method, c.TailsSeen = ByPercentiles, p.TailsSeen
	c.Pp, c.Ppk = Estimate{p.P.P, math.NaN(), math.NaN()}, EstimateOf(p.P.PK, p.PpkInterval)
	if rough {
		c.Ppk.Low, c.Ppk.High = math.NaN(), math.NaN()
	}
	return nil
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

func capabilityWords(judged []KeyCapability) []Sentence {
	worst, skewed, moved := judged[0], 0, Names(nil)
	for _, k := range judged {
		if k.Ppk.Value < worst.Ppk.Value {
			worst = k
		}
		if k.Method == ByPercentiles {
			skewed++
		}
		if k.SD > 1.2*k.Within { // common practice: from there on the level moves
			moved = append(moved, k.Key)
		}
	}
	out := []Sentence{Say("capability.worst", worst.Key, Number{worst.Ppk.Value, 2}, Number{worst.Ppk.Low, 2},
		Number{worst.Ppk.High, 2},
		worst.N, Number{GoodPpk, 2})}
	if skewed > 0 {
		out = append(out, Warn("capability.skewed", skewed, len(judged), Number{NormalAlpha, 2}))
	}
	if len(moved) > 0 {
		out = append(out, Say("capability.moved", len(moved), len(judged), moved))
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
