package answers

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/stats"
	"padjig/results/stats/capability"
	"padjig/results/stats/interval"
	"padjig/sequence/decide"
)

// LimitsAsked asks what limits the process can hold, and what proposed ones
// would have done (what-if limits).
type LimitsAsked struct {
	Selection
	Measure  lines.Measure // empty: contact resistance
	Keys     KeyChoice
	Last     int // newest units; 0: [Last]
	Side     Side
	Coverage float64  // share of units that the tolerance interval holds; 0: [Coverage]
	Proposed *Spec    // nil: nothing is tried
	Guard    *float64 // guard band as a multiple of U = 2 u of each reading; nil: that of the product
}

// WhatIf is the answer.
type WhatIf struct {
	LimitsAsked
	GuardU      float64 // the guard band that holds
	Units       int
	Over        int // readings without a number, left out
	Tolerances  []KeyTolerance
	Outcomes    []Outcome
	Changes     []Change // units that the proposed limit judges otherwise
	Rejects     int      // of them, units that only the limit in force accepts
	LetThrough  int      // and that only the proposed one accepts
	Conclusions []Sentence
}

// KeyTolerance is where most of the population of one key lies.
type KeyTolerance struct {
	Key       string
	N         int
	Mean, SD  float64
	NormalP   Chance
	Normal    Interval // right for normal readings only
	Free      Interval // without a distribution; NaN where there are too few
	Limits    [2]float64
	U         float64 // median standard uncertainty
	Values    []float64
	Runs      [2]int64 // numbers of the first and of the last run they are from
	Why       error    // why there is no normal interval
	WhyNoFree error
}

// Outcome is what limits do to the units.
type Outcome struct {
	Proposed bool
	Guard    float64 // multiple of U
	Limited  bool    // a key has a limit at all
	Rejected int
	Share    Estimate
	// BadAccepted and GoodRejected are expected from each reading's own
	// uncertainty: accepted beyond, rejected within the limit.
	BadAccepted, GoodRejected float64

	rejected map[int64]bool
}

// Change is a unit that the proposed limit judges otherwise.
type Change struct {
	Serial     string
	Run        int64
	LetThrough bool
}

// GuardMultiples are always shown beside the one that holds: none, half of U,
// that of a 5 % risk after JCGM 106 (1.645/2 = 0.82), and U.
var GuardMultiples = []float64{0, 0.5, 0.83, 1}

// AskLimits tries limits on the last units.
func AskLimits(ctx context.Context, s *results.Store, a LimitsAsked) (WhatIf, error) {
	a.Measure, a.Last, a.Coverage = cmp.Or(a.Measure, lines.Contact), cmp.Or(a.Last, Last), cmp.Or(a.Coverage, Coverage)
	w := WhatIf{LimitsAsked: a}
	read, err := a.Read(ctx, s, a.Measure, a.Keys, a.Last)
	if err != nil {
		return w, err
	}
	if w.Over = read.Beyond; len(read.Points) == 0 {
		return w, a.NoUnits()
	}
	w.GuardU = guardOf(a.Guard, read)
	if err := w.tolerances(read); err != nil {
		return w, err
	}
	if a.Proposed != nil {
		w.try(read.Series)
	}
	w.Conclusions = w.words()
	return w, nil
}

func guardOf(asked *float64, read Reading) float64 {
	switch {
	case asked != nil:
		return *asked
	case len(read.Keys) > 0:
		return read.Keys[0].Guard
	}
	return 0
}

func (w *WhatIf) tolerances(read Reading) error {
	for _, k := range read.byKey() {
		if len(k.Values) > 0 {
			w.Tolerances = append(w.Tolerances, w.tolerance(k))
		}
	}
	if len(w.Tolerances) == 1 && w.Tolerances[0].Why != nil {
		return fmt.Errorf("key %s: %w", w.Tolerances[0].Key, w.Tolerances[0].Why)
	}
	return nil
}

func (w *WhatIf) tolerance(k keyReadings) KeyTolerance {
	none, values := Interval{Low: math.NaN(), High: math.NaN()}, k.Values
	t := KeyTolerance{Key: k.Key, N: len(values), Mean: math.NaN(), SD: math.NaN(), NormalP: Chance(math.NaN()),
		Normal: none, Free: none, Limits: k.Limits, U: median(k.U), Values: values, Runs: k.Runs}
	if summary, err := stats.Summarize(values); err == nil {
		t.Mean, t.SD = summary.Mean, summary.SD
	}
	if test, err := capability.AndersonDarling(values); err == nil {
		t.NormalP = Chance(test.P)
	}
	if normal, err := interval.NormalTolerance(values, w.Side, w.Coverage, w.Level()); err != nil {
		t.Why = err
	} else {
		t.Normal.Low, t.Normal.High = normal.Low, normal.High
	}
	if free, err := interval.NonparametricTolerance(values, w.Side, w.Coverage, w.Level()); err != nil {
		t.WhyNoFree = err
	} else {
		t.Free.Low, t.Free.High = free.Low, free.High
	}
	return t
}

// Histogram counts the readings in so many bins at most.
func (t KeyTolerance) Histogram(bins int) stats.Histogram { return histogram(t.Values, bins) }

func (w *WhatIf) try(series lines.Series) {
	proposed := func(string) capability.Spec { return *w.Proposed }
	inForce := func(key string) capability.Spec { return SpecOf(series.Limits[key]) }
	guards := append(slices.Clone(GuardMultiples), w.GuardU)
	slices.Sort(guards)
	guards = slices.Compact(guards)
	for i, limits := range []func(string) capability.Spec{inForce, proposed} {
		for _, guard := range guards {
			o := w.outcome(series, limits, guard)
			o.Proposed = i == 1
			w.Outcomes = append(w.Outcomes, o)
		}
	}
	w.changes(series)
}

// outcome holds every reading to the limits of its key, moved in by a guard band.
func (w *WhatIf) outcome(series lines.Series, limits func(string) capability.Spec, guard float64) Outcome {
	o := Outcome{Guard: guard, rejected: map[int64]bool{}}
	units := map[int64]bool{}
	for _, p := range series.Points {
		units[p.Seq] = true
		limit := limits(p.Key)
		if limit.Check() != nil {
			continue
		}
		o.Limited = true
		tolerance := decide.Interval{Low: limit.Lower, High: limit.Upper}
		accepted := tolerance.Guarded(decide.Band(guard, p.U)).Contains(p.Value)
		if !accepted {
			o.rejected[p.Seq] = true
		}
		switch {
		case p.U == 0: // its uncertainty is not known: nothing can be expected of it
		case accepted:
			o.BadAccepted += decide.ConsumersRisk(p.Value, tolerance, decide.Normal(p.U))
		default:
			o.GoodRejected += decide.Conformance(p.Value, tolerance, decide.Normal(p.U))
		}
	}
	w.Units = len(units)
	o.Rejected, o.Share = len(o.rejected), w.Share(len(o.rejected), w.Units)
	return o
}

// At is the outcome of one of the limits with the guard band that holds.
func (w WhatIf) At(proposed bool) Outcome {
	for _, o := range w.Outcomes {
		if o.Proposed == proposed && o.Guard == w.GuardU {
			return o
		}
	}
	return Outcome{}
}

func (w *WhatIf) changes(series lines.Series) {
	was, now := w.At(false).rejected, w.At(true).rejected
	seen := map[int64]bool{}
	for _, p := range series.Points {
		if seen[p.Seq] || was[p.Seq] == now[p.Seq] {
			continue
		}
		seen[p.Seq] = true
		w.Changes = append(w.Changes, Change{p.Serial, p.Seq, was[p.Seq]})
		if was[p.Seq] {
			w.LetThrough++
		} else {
			w.Rejects++
		}
	}
	slices.SortFunc(w.Changes, func(a, b Change) int { return int(a.Run - b.Run) })
}

func (w WhatIf) words() []Sentence {
	out := []Sentence{Say("limits.tolerance.words", Percent{w.Coverage, 1}, Percent{w.Level(), 0})}
	var skewed Names
	for _, t := range w.Tolerances {
		if float64(t.NormalP) < NormalAlpha {
			skewed = append(skewed, t.Key)
		}
	}
	if len(skewed) > 0 {
		out = append(out, Warn("limits.tolerance.notnormal", len(skewed), len(w.Tolerances), Number{NormalAlpha, 2},
			skewed))
	}
	if w.Over > 0 {
		out = append(out, Warn("limits.over", w.Over))
	}
	if w.Proposed == nil {
		return out
	}
	now, was := w.At(true), w.At(false)
	out = append(out, Say("limits.words", Number{w.GuardU, 2}, now.Rejected, w.Units, Part(now.Share)),
		Say("limits.escapes", Figure(now.BadAccepted), Figure(now.GoodRejected)))
	if was.Limited {
		out = append(out, Say("limits.against", was.Rejected, w.Rejects, w.LetThrough))
	}
	if w.LetThrough > 0 {
		out = append(out, Warn("limits.loosened", w.LetThrough))
	}
	return append(out, Say("limits.notshown"))
}
