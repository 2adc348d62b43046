// Package conflict says where the records of the stations of a plant speak against each other: one serial number on two
// units, one unit or jig at two stations at a time, one word that means two things.
//
// Each station kept its own rules. What only shows where their records lie side by side is asked here, and is what a station
// would have refused, had it known. Decisions are pure, over runs in the order of the plant ([OfUnit], [OfJig]); the
// rest of the package reads what they need. When something was is told by the clock of the plant: stations'
// clocks differ, and their difference was taken out when the runs were numbered.
package conflict

import (
	"cmp"
	"slices"
	"strconv"
	"time"

	"padjig/results/pads"
)

// Code is what speaks against what.
type Code string

// What can speak against each other.
const (
	TwoProducts     Code = "two products"     // a serial number was tested in production as two products
	Overlap         Code = "overlap"          // a unit was on two stations at a time
	PassedElsewhere Code = "passed elsewhere" // a unit was tested at a station after it had passed at another
	AttemptAgain    Code = "attempt again"    // two stations gave a unit the same attempt
	JigTwice        Code = "jig twice"        // a jig was on two stations at a time
	RunTwice        Code = "run twice"        // two stations brought the run with one id
	LabelTwice      Code = "label twice"      // two revisions of a product go by one label
	LotTwice        Code = "lot twice"        // a lot of membranes or boards was used for two products at two stations
	TwoUnits        Code = "two units"        // two runs under one serial number read two pads
	OtherMeaning    Code = "other meaning"    // what the plant has as the definition of a revision is not what its hash says
)

// Codes are all of them, those first that concern a unit that may have left.
func Codes() []Code {
	return []Code{Overlap, PassedElsewhere, TwoProducts, TwoUnits, AttemptAgain, JigTwice, RunTwice, LabelTwice, LotTwice, OtherMeaning}
}

// Conflict are records that speak against each other.
type Conflict struct {
	Code      Code
	Of        string // serial number of the unit or jig, id of the run, label of the revision or lot
	Product   string // code; empty where it is about several
	Material  string // of a lot, empty else
	Simulated bool
	Known     []Known // two at least, in the order of the plant; of OtherMeaning the revision, with the first run by it

	Parts []string // all that it is made of, of which Known is the first: numbers of runs, or what else speaks; sorted
	Notes []Note   // what was decided about it, the oldest first
}

// with adds what a conflict is made of.
func (c *Conflict) with(parts ...string) {
	c.Parts = append(c.Parts, parts...)
	slices.Sort(c.Parts)
	c.Parts = slices.Compact(c.Parts)
}

// withRuns adds runs that it is made of.
func (c *Conflict) withRuns(runs ...Known) {
	for _, k := range runs {
		c.with(strconv.FormatInt(k.Run, 10))
	}
}

// Known is a record that speaks against another.
type Known struct {
	Run       int64  // number at the plant, 0 for a change of lots
	ID        string // of the run
	Serial    string // of the unit
	Member    int    // station, by its number
	Station   string // and its name
	Product   string
	Revision  string // label
	Hash      string // of the revision
	Jig       string
	Simulated bool
	Purpose   string // what it counts as; empty for production
	Outcome   string // as it counts
	Attempt   int
	Plant     string    // what became of the question to the plant by which it was begun; empty: there was none
	Began     time.Time // by the clock of the plant
	Ended     time.Time
}

// judged reports whether a run is one of production that ended in a judgement.
func (k Known) judged() bool { return k.Purpose == "" && (k.Outcome == "pass" || k.Outcome == "fail") }

// slack is by how much two runs have to overlap. Clocks of stations are known to some milliseconds, and a run is
// stored some after it ended.
const slack = time.Second

// OfUnit says what speaks against what in the runs of one serial number, simulated ones apart. excused are the times at
// which somebody decided that it is tested again: overrides, repairs, returns.
func OfUnit(runs []Known, excused []time.Time) (all []Conflict) {
	runs = slices.Clone(runs)
	slices.SortFunc(runs, func(a, b Known) int { return cmp.Compare(a.Run, b.Run) })
	for _, simulated := range []bool{false, true} {
		some := slices.DeleteFunc(slices.Clone(runs), func(k Known) bool { return k.Simulated != simulated })
		all = append(all, overlapping(Overlap, some)...)
		production := slices.DeleteFunc(some, func(k Known) bool { return !k.judged() })
		all = append(all, products(production)...)
		all = append(all, again(production, excused)...)
	}
	return all
}

// OfPads says of each unit that it reads like two. known are the runs that are named, by their numbers; the list is in the order of
// the plant. reworked are the times at which something was done to a unit, which may be a new pad: that is no conflict.
func OfPads(list []pads.Otherwise, known map[int64]Known, reworked map[string][]time.Time) (all []Conflict) {
	type unit struct {
		serial, product string
		simulated       bool
	}
	told := map[unit]int{} // where in all
	for _, c := range list {
		before, there := known[c.Before]
		k, here := known[c.Run]
		if !there || !here || isExcused(before, k, reworked[k.Serial]) {
			continue
		}
		of := unit{k.Serial, k.Product, k.Simulated}
		if _, is := told[of]; !is {
			told[of] = len(all)
			all = append(all, between(TwoUnits, before, k))
		}
		all[told[of]].withRuns(k)
	}
	return all
}

// OfJig says where a jig was at two stations at a time.
func OfJig(runs []Known) []Conflict {
	runs = slices.Clone(runs)
	slices.SortFunc(runs, func(a, b Known) int { return cmp.Compare(a.Run, b.Run) })
	all := overlapping(JigTwice, runs)
	for i := range all {
		all[i].Of = all[i].Known[0].Jig
	}
	return all
}

// overlapping gives the first two runs at a time of every two stations, made of all that were.
func overlapping(code Code, runs []Known) (all []Conflict) {
	told := map[[2]int]int{} // where in all
	byStart := slices.SortedStableFunc(slices.Values(runs), func(a, b Known) int { return a.Began.Compare(b.Began) })
	var open []Known
	for _, k := range byStart {
		open = slices.DeleteFunc(open, func(o Known) bool { return o.Ended.Sub(k.Began) < slack })
		for _, o := range open {
			pair := [2]int{min(o.Member, k.Member), max(o.Member, k.Member)}
			if o.Member == k.Member || k.Ended.Sub(k.Began) < slack {
				continue
			}
			if _, before := told[pair]; !before {
				told[pair] = len(all)
				all = append(all, between(code, o, k))
			}
			all[told[pair]].withRuns(o, k)
		}
		open = append(open, k)
	}
	return all
}

// products tells of a serial number that was tested as several products.
func products(runs []Known) []Conflict {
	var first []Known
	for _, k := range runs {
		if !slices.ContainsFunc(first, func(f Known) bool { return f.Product == k.Product }) {
			first = append(first, k)
		}
	}
	if len(first) < 2 {
		return nil
	}
	c := between(TwoProducts, first...)
	c.withRuns(first[0])
	for i, k := range runs[1:] {
		if k.Product != runs[i].Product { // it changed once more
			c.withRuns(k)
		}
	}
	return []Conflict{c}
}

// again tells of what a second station did as if the first had not been. One that knew of the other's runs
// goes on with the next attempt, and tests no unit that passed.
func again(runs []Known, excused []time.Time) (all []Conflict) {
	type pair struct {
		product string
		members [2]int
	}
	told := map[pair]int{} // where in all
	for i, k := range runs {
		for _, before := range runs[:i] {
			of := pair{k.Product, [2]int{before.Member, k.Member}}
			if before.Member == k.Member || before.Product != k.Product || isExcused(before, k, excused) {
				continue
			}
			code := AttemptAgain
			switch {
			case before.Outcome == "pass":
				code = PassedElsewhere
			case before.Attempt != k.Attempt:
				continue
			}
			if _, is := told[of]; !is {
				told[of] = len(all)
				all = append(all, between(code, before, k))
			}
			all[told[of]].withRuns(before, k)
		}
	}
	return all
}

// isExcused reports whether somebody decided between two runs that the unit is tested once more.
func isExcused(before, k Known, excused []time.Time) bool {
	return slices.ContainsFunc(excused, func(at time.Time) bool { return at.After(before.Began) && at.Before(k.Ended) })
}

func between(code Code, known ...Known) Conflict {
	c := Conflict{Code: code, Of: known[0].Serial, Product: known[0].Product, Simulated: known[0].Simulated, Known: known}
	for _, k := range known {
		if k.Product != c.Product {
			c.Product = ""
		}
	}
	return c
}
