package answers

import (
	"padjig/results/lines"
	"padjig/sequence/product"
)

// The conventions of every question. What is said of a published text is what
// docs/statistics.md says of it; "common practice" is that, without a source.
const (
	// Confidence is that of every interval unless another is asked for. A
	// difference is called one when its p, adjusted for how many were looked
	// at, is below 1 - confidence: so that a verdict never contradicts the
	// interval beside it (e-Handbook 7.1.4, tests and intervals are one thing).
	Confidence = 0.95

	// NormalAlpha is the p of Anderson-Darling below which readings are not
	// taken for normal; their Pp and Ppk then come from percentiles (ISO 22514-4), where
	// there are enough of them.
	// It chooses a method and does not follow the confidence.
	NormalAlpha = 0.05

	// SubgroupSize units in a row are a rational subgroup: of a chart of
	// readings, and for the sigma within of a capability (ISO 7870-2 takes 4 or
	// 5; every unit is measured here, so that nothing forces single values).
	SubgroupSize = 5

	// BaselineSubgroups are what limits come from while nothing is frozen: the
	// first ones shown (ISO 7870-2: about 25). Fewer than LeastBaseline are not
	// frozen, and limits from fewer are said to be preliminary.
	BaselineSubgroups = 25
	LeastBaseline     = 20

	// Lambda and Width of an EWMA: 0.2 and 2.962 sigma, the published pair with
	// a false alarm every 500 points (Lucas and Saccucci 1990, whose tables
	// e-Handbook 6.3.2.4 refers to).
	Lambda = 0.2
	Width  = 2.962

	// Allowance and Decision of a cumulative sum, in sigmas: for a shift of one
	// sigma (e-Handbook 6.3.2.3).
	Allowance = 0.5
	Decision  = 5.0

	// Last is how many of the newest units readings are taken of.
	Last = 500

	// Coverage is the share of units that a tolerance interval holds.
	Coverage = 0.99

	// SmallGroup is how many units a group needs to be drawn to scale beside others: with
	// fewer its interval is as wide as the chart, and hides what the others show (common
	// practice). It is named below the chart; tables have every group.
	SmallGroup = 10

	// LeastHits on all jigs together make a place worth comparing: their sum says nothing of
	// which jig they are from, so that it chooses none.
	LeastHits = 3

	// ProbeRuns are the newest runs that probes are judged by.
	ProbeRuns = 10000

	// LoopWindow runs at either end of a probe's life, or on either side of a change,
	// are compared, where there are at least LeastLoops: below, a rank test adjusted for
	// many probes can hardly find anything.
	LoopWindow = 100
	LeastLoops = 20

	// GoodPpk is what is asked of a process that goes on (common practice).
	GoodPpk = 1.33
)

// DefaultRule is that of a product that says nothing of its own.
var DefaultRule = RuleOf(product.UsualStops())

// How often chance stops a line is told of a shift of this many units, and before there is a
// yield of its own, of a line with this first-pass yield (common practice, no source).
const (
	ShiftUnits = 400
	GoodYield  = 0.98
	// GoodReseats is the share of units that are put in twice where nothing is wrong.
	GoodReseats = 0.1
)

// The defaults of the questions that tell something apart.
const (
	DefaultCause = lines.CauseByFinding
	DefaultRules = "default"
)
