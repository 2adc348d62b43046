package answers

import (
	"cmp"
	"context"
	"math"
	"strings"

	"padjig/results"
	"padjig/results/lines"
)

// Stops is where a stop rule would have halted the line.
type Stops struct {
	Rule  StopRule
	Units int // looked at
	Met   []Stop
	// Chance is how often a window would fall below the rule although nothing
	// changed, at the first-pass yield of the selection.
	Yield  float64
	Chance Chance
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
	out := Stops{Rule: rule, Units: len(list), Yield: yield, Chance: Chance(math.NaN())}
	if !math.IsNaN(yield) { // no unit, no yield
		out.Chance = Chance(rule.FalseStops(yield))
	}
	causes := make([]string, len(list))
	for i, unit := range list {
		causes[i], _, _ = strings.Cut(unit.Cause, ": ") // what was found, wherever
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
	return []Sentence{met, Say("stops.false", Percent{s.Rule.MinYield, 0}, s.Rule.Window, s.Rule.SameRun,
		Percent{s.Yield, 1}, s.Chance)}
}
