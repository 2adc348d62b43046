package answers

import (
	"context"
	"maps"
	"slices"

	"padjig/results"
	"padjig/results/care"
	"padjig/results/lines"
	"padjig/results/stats/compare"
	"padjig/results/stats/gauge"
)

// jigs are those that readings are from, and what speaks against each over their runs: a jig that
// did not read alike moves what passes for the process.
type jigs struct {
	names   Names
	upset   Names // that failed a verification or a check, misread themselves, or drift
	unshown Names // without enough checks of one reference unit to see a trend
	of      care.Steadiness
	trends  int // keys of reference units with a trend
}

// LeastChecks make a trend of a reference unit; common practice asks for 20 or more.
const LeastChecks = 8

// jigsOf asks what the records say of the jigs from the first to the last of their readings.
func (s Selection) jigsOf(ctx context.Context, store *results.Store, m lines.Measure, points []lines.Point) (j jigs, err error) {
	spans := map[string][2]int64{}
	for _, p := range points {
		span, known := spans[p.Jig]
		if !known {
			span[0] = p.Seq
		}
		spans[p.Jig] = [2]int64{min(span[0], p.Seq), max(span[1], p.Seq)}
	}
	j.names = slices.Sorted(maps.Keys(spans))
	var stretches []care.Stretch
	for _, name := range j.names {
		stretches = append(stretches, care.Stretch{Jig: name, From: spans[name][0], To: spans[name][1]})
	}
	said, err := store.Care.Steady(ctx, s.Filter.Simulated, stretches)
	if err != nil {
		return j, err
	}
	for _, name := range j.names {
		span, of := spans[name], said[name]
		trends, shown, err := s.trends(ctx, store, m, name, of.Checked, span)
		if err != nil {
			return j, err
		}
		j.of.Misread, j.of.Failed, j.of.Bad, j.trends = j.of.Misread+of.Misread, j.of.Failed+of.Failed, j.of.Bad+of.Bad, j.trends+trends
		switch {
		case of.Upset() || trends > 0:
			j.upset = append(j.upset, name)
		case !shown:
			j.unshown = append(j.unshown, name)
		}
	}
	return j, nil
}

// trends counts keys of reference units that a jig read rising or falling from check to check,
// beyond chance for all keys of the jig together (Holm); shown is whether any unit had checks enough.
func (s Selection) trends(ctx context.Context, store *results.Store, m lines.Measure, jig string, units []care.CheckedUnit, span [2]int64) (n int, shown bool, err error) {
	var chances []float64
	for _, unit := range units {
		if _, read := lines.MeasureColumns[m]; unit.Checks < LeastChecks || !read {
			continue
		}
		shown = true
		values, err := store.Studies.ReferenceValues(ctx, jig, unit.Unit, s.Filter.Simulated, m)
		if err != nil {
			return 0, false, err
		}
		for _, key := range values.Keys {
			var days, read []float64
			for i, v := range values.Values[key] {
				if run := values.Runs[i]; v == v && span[0] <= run && run <= span[1] {
					days, read = append(days, values.Times[i].Sub(values.Times[0]).Hours()/24), append(read, v)
				}
			}
			if line, err := gauge.FitLine(days, read, s.Level()); err == nil {
				chances = append(chances, line.SlopeP)
			}
		}
	}
	for _, p := range compare.Holm(chances) {
		if p < 1-s.Level() {
			n++
		}
	}
	return n, shown, nil
}

// before says what is to be looked at before any index: a jig that did not read alike, jigs that
// are mixed, so that what they differ by passes for the process, and a level that moves, so that
// it has no one spread.
func (j jigs) before(judged []KeyCapability) (out []Sentence) {
	if len(j.upset) > 0 {
		out = append(out, Warn("capability.unsteady", j.upset, j.of.Failed, j.of.Bad, j.of.Misread, j.trends))
	}
	if len(j.names) > 1 {
		out = append(out, Warn("capability.jigs", len(j.names), j.names))
	}
	var moved Names
	for _, k := range judged {
		if k.moved() {
			moved = append(moved, k.Key)
		}
	}
	if len(moved) > 0 {
		out = append(out, Warn("capability.moved", len(moved), len(judged), moved))
	}
	if len(j.unshown) > 0 {
		out = append(out, Say("capability.unshown", j.unshown, LeastChecks))
	}
	return out
}

// moved reports whether the level of a key moves (from there on: common practice).
func (k KeyCapability) moved() bool { return k.Why == nil && k.SD > 1.2*k.Within }

// remarks are the codes of what is to be looked at before the index of a key.
func (j jigs) remarks(k KeyCapability) (codes []string) {
	for _, one := range []struct {
		code  string
		holds bool
	}{{"jig unsteady", len(j.upset) > 0}, {"jigs mixed", len(j.names) > 1}, {"level moved", k.moved()}, {"jig unshown", len(j.unshown) > 0}} {
		if one.holds {
			codes = append(codes, one.code)
		}
	}
	return codes
}
