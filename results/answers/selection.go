package answers

import (
	"cmp"
	"fmt"
	"math"

	"padjig/results/lines"
	"padjig/results/stats"
	"padjig/results/stats/capability"
	"padjig/results/stats/control"
	"padjig/results/stats/interval"
	"padjig/results/stats/sampling"
)

// The words of package stats that questions and answers are told in. Surfaces
// take them from here.
type (
	Interval    = stats.Interval
	Spec        = capability.Spec
	Limits      = control.Limits
	Rules       = control.Rules
	StopRule    = sampling.StopRule
	FalseStops  = sampling.FalseStops
	Side        = interval.Side
	TooFewError = stats.TooFewError
)

// Why there is no answer.
var (
	ErrEmpty    = stats.ErrEmpty
	ErrNoSpread = stats.ErrNoSpread
)

// The sides of a tolerance interval.
const (
	BothSides = interval.BothSides
	OnlyLower = interval.OnlyLower
	OnlyUpper = interval.OnlyUpper
)

// ParseRules reads a set of run rules.
func ParseRules(text string) (Rules, error) { return control.ParseRules(text) }

// Selection is the runs that a question is about, and how sure its intervals are.
type Selection struct {
	Filter     lines.Filter
	Confidence float64 // 0: [Confidence]
	Exact      bool    // intervals of shares after Clopper and Pearson, not Wilson
	// Usual says what is to be known of what was chosen where nothing was said.
	Usual []Sentence
}

// Level is the confidence of every interval.
func (s Selection) Level() float64 { return cmp.Or(s.Confidence, Confidence) }

// Alpha is the p below which something is called a difference.
func (s Selection) Alpha() float64 { return 1 - s.Level() }

// Estimate is a number with its interval. Infinite ends are open, NaN ends unknown.
type Estimate struct{ Value, Low, High float64 }

// EstimateOf is a value with its interval.
func EstimateOf(value float64, i stats.Interval) Estimate { return Estimate{value, i.Low, i.High} }

// Unknown is the estimate of nothing.
func Unknown() Estimate { return Estimate{math.NaN(), math.NaN(), math.NaN()} }

// Share estimates x of n.
func (s Selection) Share(x, n int) Estimate {
	of := interval.Wilson
	if s.Exact {
		of = interval.ClopperPearson
	}
	i, err := of(x, n, s.Level())
	if err != nil || n == 0 {
		return Unknown()
	}
	return EstimateOf(float64(x)/float64(n), i)
}

// NoUnits is the error of a selection without any.
func (s Selection) NoUnits() error { return fmt.Errorf("%w: %s", lines.ErrNoUnits, s.Filter) }

// SpecOf turns the limits of a key into a specification: 0 is none.
func SpecOf(limits [2]float64) capability.Spec {
	s := capability.Spec{Lower: math.Inf(-1), Upper: math.Inf(1)}
	if limits[0] > 0 {
		s.Lower = limits[0]
	}
	if limits[1] > 0 {
		s.Upper = limits[1]
	}
	return s
}
