package sequence

import (
	"slices"

	"padjig/fixture"
)

// Bound is what is known of the insulation between two lines at a step.
type Bound struct {
	Lines [2]string          `json:"lines"`
	Ohm   fixture.Resistance `json:"insulation_resistance"`
	Alone bool               `json:"pair_alone"` // the two were read by themselves; else it is at least what their groups read
}

// Weakest gives, of all pairs of lines, the one of whose insulation the least is known at a
// step; not known where nothing was read.
//
// A pair that was read by itself is what it read, the smaller of both polarities. Any other
// lies between groups each of which reads no more than it does: the largest bounds it, or
// where parts conduct one way only and groups were read both ways, the smaller of the
// largest each way.
func Weakest(all []Insulation, step string) (weakest Bound, known bool) {
	read := slices.DeleteFunc(slices.Clone(all), func(i Insulation) bool { return i.Step != step })
	var names []string
	for _, i := range read {
		names = append(append(names, i.Feed...), i.Ground...)
	}
	slices.Sort(names)
	names = slices.Compact(names)
	for i, a := range names {
		for _, b := range names[:i] {
			if bound, found := between(read, b, a); found && (!known || Less(bound.Ohm, weakest.Ohm)) {
				weakest, known = bound, true
			}
		}
	}
	return weakest, known
}

// Less orders readings of insulation: of two that are alike, one beyond its range is the
// larger.
func Less(a, b fixture.Resistance) bool {
	return a.Value < b.Value || a.Value == b.Value && !a.AtLeast && b.AtLeast
}

func between(read []Insulation, a, b string) (Bound, bool) {
	bound := Bound{Lines: [2]string{a, b}}
	var ways [2]*fixture.Resistance // the largest with a fed, and with b fed
	for _, one := range read {
		way := 0
		switch {
		case slices.Contains(one.Feed, a) && slices.Contains(one.Ground, b):
		case slices.Contains(one.Feed, b) && slices.Contains(one.Ground, a):
			way = 1
		default:
			continue
		}
		if alone := len(one.Feed) == 1 && len(one.Ground) == 1; alone != bound.Alone {
			if !alone {
				continue // they were read by themselves
			}
			bound.Alone, ways = true, [2]*fixture.Resistance{}
		}
		if ways[way] == nil || !bound.Alone && Less(*ways[way], one.Ohm) || bound.Alone && Less(one.Ohm, *ways[way]) {
			ways[way] = &one.Ohm
		}
	}
	switch {
	case ways[0] == nil && ways[1] == nil:
		return bound, false
	case ways[1] == nil:
		bound.Ohm = *ways[0]
	case ways[0] == nil:
		bound.Ohm = *ways[1]
	default:
		smaller := Less(*ways[0], *ways[1])
		if !bound.Alone && !bothWays(read) {
			smaller = !smaller
		}
		bound.Ohm = *ways[1]
		if smaller {
			bound.Ohm = *ways[0]
		}
	}
	return bound, true
}

// bothWays reports whether groups were read in both polarities.
func bothWays(read []Insulation) bool {
	return slices.ContainsFunc(read, func(i Insulation) bool {
		return slices.Equal(i.Feed, read[0].Ground) && slices.Equal(i.Ground, read[0].Feed)
	})
}
