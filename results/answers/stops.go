package answers

import (
	"cmp"
	"context"
	"math"
	"time"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/stats/sampling"
	"padjig/sequence/product"
)

// Stops is where a stop rule would have halted the line.
type Stops struct {
	Rule  StopRule
	Units int // looked at
	Met   []Stop
	Yield float64    // first-pass, of the selection
	False FalseStops // of a line in order with that yield, in a shift of [ShiftUnits]
}

// Stop is a unit at which the rule was met.
type Stop struct {
	Unit    lines.Judged
	Passed  int    // of the last Window units, when it was for the yield
	Finding string // that came up Run times in a row; empty when it was the yield
	Run     int
}

// windows are looked at, so that stops of before are seen too.
const windows = 10

// stops looks at the last units, those of ten windows when units is 0.
func (s Selection) stops(ctx context.Context, store *results.Store, rule StopRule, units int, yield float64) (Stops,
	error) {
	rule = cmp.Or(rule, DefaultRule)
	units = cmp.Or(units, windows*rule.Window)
	list, err := store.Lines.LastUnits(ctx, s.Filter, max(units, 1))
	if err != nil {
		return Stops{}, err
	}
	out := Stops{Rule: rule, Units: len(list), Yield: yield}
	if !math.IsNaN(yield) { // no unit, no yield
		out.False = rule.InShift(yield, ShiftUnits)
	}
	in(s.Filter.Zone, list, func(j *lines.Judged) *time.Time { return &j.Started })
	causes := make([]string, len(list))
	for i, unit := range list {
		causes[i] = unit.Fault
		if !unit.Passed && causes[i] == "" {
			causes[i] = "?" // a fail whose finding is not known is no pass
		}
	}
	for _, stop := range rule.Stops(causes) {
		out.Met = append(out.Met, Stop{list[stop.At], stop.Passed, stop.Reason, stop.Run})
	}
	return out, nil
}

// Words say why the line would have been halted there.
func (s Stop) Words(r StopRule) Sentence {
	if s.Finding != "" {
		return Warn("stops.run", s.Unit.Serial, s.Unit.Started, s.Run, s.Finding)
	}
	return Warn("stops.yield", s.Unit.Serial, s.Unit.Started, s.Passed, r.Window)
}

func (s Stops) words() []Sentence {
	met := Say("stops.none", s.Units)
	if len(s.Met) > 0 {
		met = Warn("stops.met", len(s.Met), s.Units)
	}
	if math.IsNaN(s.Yield) {
		return []Sentence{met}
	}
	return []Sentence{met, Say("stops.false", Percent{s.Rule.MinYield, 0}, s.Rule.Window, s.Rule.SameRun,
		Percent{s.Yield, 1}, ShiftUnits, Chance(s.False.Any), Chance(s.False.Yield), Chance(s.False.SameRun))}
}

// RuleWords say by which rules a line of a product stops itself, and how often chance alone
// does so in a shift of a good line: for what units were judged by, and for reseats. How often
// the same pin is doubtful where nothing is wrong is not known, so that is left out.
func RuleWords(rules product.Stops) []Sentence {
	var out []Sentence
	share := Percent{rules.Yield, 0}
	if whole := math.Round(100 * rules.Yield); math.Abs(100*rules.Yield-whole) > 1e-9 {
		share.Digits = 1
	}
	for _, r := range []struct {
		n    int
		says Sentence
	}{
		{rules.SameFinding, Say("rules.finding", rules.SameFinding)},
		{rules.Of, Say("rules.yield", share, rules.Of)},
		{rules.SameProbe, Say("rules.probe", rules.SameProbe)},
		{rules.Unseated, Say("rules.unseated", rules.Unseated)},
		{rules.Reseats, Say("rules.reseats", rules.Reseats)},
	} {
		if r.n > 0 {
			out = append(out, r.says)
		}
	}
	if len(out) == 0 {
		return []Sentence{Warn("rules.none")}
	}
	by := RuleOf(rules).InShift(GoodYield, ShiftUnits)
	out = append(out, Say("rules.false", Percent{GoodYield, 0}, ShiftUnits, Chance(by.Any), Chance(by.Yield), Chance(by.SameRun)))
	if rules.Unseated > 0 {
		out = append(out, Say("rules.false.reseats", Percent{GoodReseats, 0}, ShiftUnits, Chance(falseReseats(rules.Unseated))))
	}
	return out
}

// falseReseats is how often chance alone has so many units in a row reseated in a shift, each
// by itself.
func falseReseats(row int) float64 {
	return sampling.RunWithin(row, ShiftUnits+row-1, GoodReseats)
}

// RuleOf is what of a product's rules looks at units that were judged.
func RuleOf(rules product.Stops) StopRule {
	return StopRule{Window: rules.Of, MinYield: rules.Yield, SameRun: rules.SameFinding}
}
