package control

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// A Rule is a pattern of points on a chart that hardly occurs in a process in
// order, and that points at a cause when it does.
type Rule int

// The rules. Points are in sigmas from the centre line; a side is above or
// below it; a point on a line is not beyond it, and one on the centre line is
// on no side. The patterns are those of the Western Electric handbook (1956)
// and of Nelson (1984).
const (
	Beyond3      Rule = iota // one point beyond 3 sigma
	TwoOfThree2              // 2 of 3 beyond 2 sigma on one side, the newest among them
	FourOfFive1              // 4 of 5 beyond 1 sigma on one side, the newest among them
	EightOneSide             // 8 in a row on one side
	NineOneSide              // 9 in a row on one side
	SixTrend                 // 6 in a row, each above the one before, or each below
	FourteenZig              // 14 in a row that go up and down in turn
	FifteenIn1               // 15 in a row within 1 sigma
	EightOut1                // 8 in a row beyond 1 sigma, on either side
	ruleCount
)

// ruleText is each rule's short name and what it looks like and may mean.
var ruleText = [ruleCount]struct{ name, words string }{
	Beyond3:      {"beyond-3", "one point further than 3 sigma from the centre: a sudden large change"},
	TwoOfThree2:  {"two-of-three", "two of three points further than 2 sigma on the same side: a change of level"},
	FourOfFive1:  {"four-of-five", "four of five points further than 1 sigma on the same side: a small change of level"},
	EightOneSide: {"eight-side", "eight points in a row on the same side: a lasting small change of level"},
	NineOneSide:  {"nine-side", "nine points in a row on the same side: a lasting small change of level"},
	SixTrend:     {"six-trend", "six points in a row rising, or falling: something wears or warms up"},
	FourteenZig:  {"fourteen-zigzag", "fourteen points in a row up and down in turn: two sources take turns"},
	FifteenIn1:   {"fifteen-hugging", "fifteen points in a row within 1 sigma: limits too wide, or sources mixed within a point"},
	EightOut1:    {"eight-hollow", "eight points in a row all further than 1 sigma, either side: two levels mixed"},
}

// String is the rule's short name.
func (r Rule) String() string {
	if r < 0 || r >= ruleCount {
		return fmt.Sprintf("rule %d", int(r))
	}
	return ruleText[r].name
}

// Words say what the rule looks for and what it may mean.
func (r Rule) Words() string { return ruleText[r].words }

// AllRules lists every rule.
func AllRules() []Rule {
	all := make([]Rule, ruleCount)
	for i := range all {
		all[i] = Rule(i)
	}
	return all
}

// Rules is a set of rules, chosen before looking at the data: each added rule
// finds more and raises more false alarms ([Rules.RunLength]).
type Rules []Rule

// The usual sets.
var (
	OnlyLimits   = Rules{Beyond3}
	ZoneRules    = Rules{Beyond3, TwoOfThree2, FourOfFive1, EightOneSide}
	DefaultRules = Rules{Beyond3, NineOneSide}
)

// ParseRules reads short names separated by commas, or "limits", "zones",
// "default" or "all" for a set. Every unknown name is listed.
func ParseRules(text string) (Rules, error) {
	switch text {
	case "limits":
		return OnlyLimits, nil
	case "zones":
		return ZoneRules, nil
	case "default", "":
		return DefaultRules, nil
	case "all":
		return AllRules(), nil
	}
	var set Rules
	var unknown []string
	for name := range strings.SplitSeq(text, ",") {
		if r, ok := ruleNamed(strings.TrimSpace(name)); ok {
			set = append(set, r)
		} else {
			unknown = append(unknown, fmt.Sprintf("%q", name))
		}
	}
	if unknown != nil {
		return nil, fmt.Errorf("no such run rule: %s; there are %s", strings.Join(unknown, ", "), Rules(AllRules()))
	}
	return set, nil
}

func ruleNamed(name string) (Rule, bool) {
	for r, t := range ruleText {
		if t.name == name {
			return Rule(r), true
		}
	}
	return 0, false
}

// String lists the short names as [ParseRules] reads them.
func (s Rules) String() string {
	names := make([]string, len(s))
	for i, r := range s {
		names[i] = r.String()
	}
	return strings.Join(names, ",")
}

func (s Rules) has(r Rule) bool { return slices.Contains(s, r) }

// Flags says for each point which rules of the set it completes. z are
// standardized values in time order. NaN breaks every pattern.
func (s Rules) Flags(z []float64) [][]Rule {
	flags := make([][]Rule, len(z))
	for _, r := range s {
		for i := range z {
			if r.completes(z[:i+1]) {
				flags[i] = append(flags[i], r)
			}
		}
	}
	return flags
}

// completes reports whether the last of z completes the pattern.
func (r Rule) completes(z []float64) bool {
	switch r {
	case Beyond3:
		return math.Abs(z[len(z)-1]) > 3
	case TwoOfThree2:
		return mostOf(z, 3, 2, 2)
	case FourOfFive1:
		return mostOf(z, 5, 4, 1)
	case EightOneSide:
		return mostOf(z, 8, 8, 0)
	case NineOneSide:
		return mostOf(z, 9, 9, 0)
	case SixTrend:
		return steps(z, 6, 1)
	case FourteenZig:
		return steps(z, 14, -1)
	case FifteenIn1:
		return every(z, 15, func(x float64) bool { return math.Abs(x) < 1 })
	case EightOut1:
		return every(z, 8, func(x float64) bool { return math.Abs(x) > 1 })
	}
	return false
}

// mostOf: of the last window points (fewer at the start), need or more lie
// beyond the distance on the side of the last one, itself included.
func mostOf(z []float64, window, need int, beyond float64) bool {
	side := math.Copysign(1, z[len(z)-1])
	if !(side*z[len(z)-1] > beyond) {
		return false
	}
	among := z[max(0, len(z)-window):]
	spare := len(among) - need // so many may lie elsewhere
	for i := len(among) - 1; i >= 0 && spare >= 0; i-- {
		if !(side*among[i] > beyond) {
			spare--
		}
	}
	return spare >= 0
}

func every(z []float64, window int, ok func(float64) bool) bool {
	return len(z) >= window && !slices.ContainsFunc(z[len(z)-window:], func(x float64) bool { return !ok(x) })
}

// steps: the last window points' steps are none zero, and each is the one
// before times sense in sign: 1 keeps on in one direction, -1 turns each time.
func steps(z []float64, window int, sense float64) bool {
	if len(z) < window {
		return false
	}
	last := z[len(z)-window:]
	for i := 1; i < window; i++ {
		step := last[i] - last[i-1]
		if step == 0 || math.IsNaN(step) || (i > 1 && sense*step*(last[i-1]-last[i-2]) <= 0) {
			return false
		}
	}
	return true
}
