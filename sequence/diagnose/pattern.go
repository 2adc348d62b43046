package diagnose

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Sighting is one unit tested on a jig, and what its diagnosis found; a unit that passed
// has no causes.
type Sighting struct {
	Serial string
	Causes []Cause // the first of each group of the explanation
}

// Suspicion is a place that failed on unit after unit: the jig is at that place on every
// one of them.
type Suspicion struct {
	Place Said
	Units int // in a row, the newest among them
	// Chance is the probability that the units behind the newest failed there too
	// without a common cause.
	Chance float64
	// Probability is that of a common cause: the jig, or else something all these
	// units share. Readings on one jig cannot tell those two apart.
	Probability float64
	Say         Said
	Check       Said
}

// What is assumed about common causes (common practice, no source): of the failures at a
// place, so many are the jig's; and a fault of the jig shows on nearly every unit.
const (
	shareOfJig = 0.07
	staysThere = 0.95
)

// Patterns looks for places that failed on consecutive units of one product on one jig,
// newest first. Runs of the same unit one after the other count once.
//
// Without a common cause, the units behind the newest fail at the same place with the
// rate of that place, each independent of the others. The rate is estimated from the
// units before the row by Laplace's rule of succession over all places of the product:
// (failures there + 1) / (units + places). With k units in a row
//
//	chance = rate^(k-1)
//	odds   = share of jig / (1 - share of jig) * stays^(k-1) / chance
//
// and the probability of a common cause is odds / (1 + odds).
func Patterns(places int, recent []Sighting) []Suspicion {
	units := perUnit(recent)
	if len(units) < 2 {
		return nil
	}
	var out []Suspicion
	for _, at := range placesOf(units[0]) {
		row := 1
		for row < len(units) && slices.ContainsFunc(placesOf(units[row]), at.same) {
			row++
		}
		if row >= 2 {
			out = append(out, at.suspicion(places, row, units[row:]))
		}
	}
	slices.SortStableFunc(out, func(a, b Suspicion) int { return cmp.Compare(b.Probability, a.Probability) })
	return out
}

// perUnit keeps the newest of consecutive runs of one unit.
func perUnit(recent []Sighting) []Sighting {
	return slices.CompactFunc(slices.Clone(recent), func(a, b Sighting) bool { return a.Serial == b.Serial })
}

// spot is a place as the jig knows it: an actuator, or channels.
type spot struct {
	key   string
	lines []string
}

func (s spot) same(o spot) bool { return s.key == o.key && slices.Equal(s.lines, o.lines) }

func placesOf(s Sighting) []spot {
	var out []spot
	for _, c := range s.Causes {
		at := spot{key: c.Key}
		if c.Key == "" {
			at.lines = slices.Sorted(slices.Values(c.Lines))
		}
		if at.key != "" || len(at.lines) > 0 {
			out = append(out, at)
		}
	}
	return out
}

func (s spot) suspicion(places, row int, before []Sighting) Suspicion {
	failed := 0
	for _, u := range before {
		if slices.ContainsFunc(placesOf(u), s.same) {
			failed++
		}
	}
	rate := float64(failed+1) / float64(len(before)+max(places, 2))
	chance := math.Pow(rate, float64(row-1))
	odds := shareOfJig / (1 - shareOfJig) * math.Pow(staysThere, float64(row-1)) / chance
	of, code := s.words()
	return Suspicion{
		Place: said("at."+code, of), Units: row, Chance: chance, Probability: odds / (1 + odds),
		Say: said("pattern."+code, of, row, fmt.Sprintf("%.3g", 1/chance)), Check: said(BeforeNext),
	}
}

// words are the name of the place, and what of a jig is there: the actuator of a key, or
// channels.
func (s spot) words() (name string, code Code) {
	switch {
	case s.key != "":
		return s.key, "label"
	case len(s.lines) == 1:
		return s.lines[0], "line"
	}
	return fmt.Sprint(s.lines), "several lines"
}
