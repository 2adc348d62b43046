package sequence

import (
	"math"
	"slices"

	"padjig/fixture"
	"padjig/fixture/quantity"
)

// Bound is what is known of the insulation between two lines at a step.
type Bound struct {
	Lines [2]string          `json:"lines"`
	Ohm   fixture.Resistance `json:"insulation_resistance"`
	Alone bool               `json:"pair_alone"` // the two were read by themselves; else it is at least what their groups read
}

// Said is the bound as people read it. Of a reading over range one digit is enough, rounded
// down so that it stays a bound.
func (b Bound) Said() string {
	if !b.Ohm.AtLeast || b.Ohm.Value.IsOpen() || !(b.Ohm.Value > 0) {
		return b.Ohm.String()
	}
	step := quantity.Ohm(math.Pow(10, math.Floor(math.Log10(float64(b.Ohm.Value)))))
	return fixture.Resistance{Value: step * quantity.Ohm(math.Floor(float64(b.Ohm.Value/step))), AtLeast: true}.String()
}

// Weakest gives, of all pairs of lines, the one of whose insulation the least is known at a
// step; not known where nothing was read.
//
// Where pairs were read by themselves, it is one of these: what made a group read little was
// looked for among them, so that its bound says nothing of the others.
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
			bound, found := between(read, b, a)
			switch {
			case !found, known && weakest.Alone && !bound.Alone:
			case !known, bound.Alone && !weakest.Alone, Less(bound.Ohm, weakest.Ohm):
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

// Toward is a reading that says something of the insulation between two lines.
type Toward struct {
	Back  bool // the second of the two was fed
	Alone bool // no other line was
	Ohm   fixture.Resistance
}

// Bounded gives what is known of the insulation between two lines from all readings of a
// step that say something of it; bothWays: groups were read in both polarities.
func Bounded(all []Toward, bothWays bool) (r fixture.Resistance, alone, known bool) {
	alone = slices.ContainsFunc(all, func(t Toward) bool { return t.Alone })
	var ways [2]*fixture.Resistance
	for _, t := range all {
		if t.Alone != alone {
			continue // the two were read by themselves
		}
		way := &ways[0]
		if t.Back {
			way = &ways[1]
		}
		if *way == nil || !alone && Less(**way, t.Ohm) || alone && Less(t.Ohm, **way) {
			*way = &t.Ohm
		}
	}
	switch {
	case ways[0] == nil && ways[1] == nil:
		return r, alone, false
	case ways[1] == nil:
		return *ways[0], alone, true
	case ways[0] == nil, Less(*ways[1], *ways[0]) == (alone || bothWays):
		return *ways[1], alone, true
	}
	return *ways[0], alone, true
}

func between(read []Insulation, a, b string) (Bound, bool) {
	bound := Bound{Lines: [2]string{a, b}}
	var all []Toward
	for _, one := range read {
		alone := len(one.Feed) == 1 && len(one.Ground) == 1
		switch {
		case slices.Contains(one.Feed, a) && slices.Contains(one.Ground, b):
			all = append(all, Toward{false, alone, one.Ohm})
		case slices.Contains(one.Feed, b) && slices.Contains(one.Ground, a):
			all = append(all, Toward{true, alone, one.Ohm})
		}
	}
	var known bool
	bound.Ohm, bound.Alone, known = Bounded(all, bothWays(read))
	return bound, known
}

// bothWays reports whether groups were read in both polarities.
func bothWays(read []Insulation) bool {
	return slices.ContainsFunc(read, func(i Insulation) bool {
		return slices.Equal(i.Feed, read[0].Ground) && slices.Equal(i.Ground, read[0].Feed)
	})
}
