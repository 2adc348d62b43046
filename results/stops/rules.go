// Package stops decides when a line stops itself, and keeps when it did and who let it
// go on.
//
// A stop is derived from the stored runs of a jig and a product, by their numbers and
// never by a clock, so that neither a crash nor another program beside this one gets
// round it. What was derived is written down when it is first seen, and holds until
// somebody lifts it; from then on the rules are counted anew.
package stops

import (
	"slices"

	"padjig/sequence"
	"padjig/sequence/product"
)

// Rule is why a line stopped, or a unit is not tested again.
type Rule string

// The rules, as [product.Stops] says how many each takes.
const (
	SameFinding Rule = "same finding"
	Yield       Rule = "yield"
	Reseats     Rule = "reseats" // of one unit: the line goes on with others
	SameProbe   Rule = "same probe"
	Unseated    Rule = "unseated"
	SamePad     Rule = "same pad" // a unit read like one with another serial number
)

// Run is a production run as the rules see it.
type Run struct {
	Seq     int64
	Unit    string
	Outcome sequence.Outcome
	First   bool    // it is the first to say something of its unit: it judged it, or was aborted after a finding
	Attempt int     // above 1 for a First: one before was not finished
	Faults  []Fault // what was found
	Pins    []int   // whose contact was doubtful, so that the unit had to be reseated
	Alike   bool    // it reads like a unit with another serial number
}

// Fault is a finding at a place.
type Fault struct{ Finding, Key, Lines string } // the lines with blanks between

// Met is a rule that was met.
type Met struct {
	Rule  Rule
	Unit  string // the one that it holds for; empty: the line
	Fault Fault  // that is the same
	Pins  []int  // whose contact is doubtful, each a probe of the jig
	Count int    // units, or reseats, that met it; of the yield: units that passed
	Of    int    // units that the yield is of
	Run   int64  // that met it
}

// rules says of each rule that stops the line when it is met, by what went before up to
// the newest run. The first that is met stops it.
var rules = []struct {
	rule Rule
	met  func(past, product.Stops) (Met, bool)
}{
	{SamePad, past.samePad},
	{SameFinding, past.sameFinding},
	{SameProbe, past.sameProbe},
	{Unseated, past.unseated},
	{Yield, past.yield},
}

// OfLine gives the first rule that the runs of a line met, in order of their numbers; nil
// for none.
func OfLine(limits product.Stops, runs []Run) *Met {
	var p past
	for _, run := range runs {
		p = p.with(run)
		for _, r := range rules {
			if met, is := r.met(p, limits); is {
				met.Rule, met.Run = r.rule, run.Seq
				return &met
			}
		}
	}
	return nil
}

// OfUnit says whether a unit was reseated too often in a row, by all its runs on a line;
// nil if not. A run that was aborted says nothing of its seating.
func OfUnit(limits product.Stops, runs []Run) *Met {
	met := Met{Rule: Reseats}
	for _, run := range runs {
		switch run.Outcome {
		case sequence.Reseat:
			met.Count++
			met.Unit, met.Run, met.Pins = run.Unit, run.Seq, union(met.Pins, run.Pins)
		case sequence.Aborted:
		default:
			met.Count, met.Pins = 0, nil
		}
	}
	if limits.Reseats <= 0 || met.Count < limits.Reseats {
		return nil
	}
	return &met
}

// past is what the rules look at: units in the order in which they came, each once.
type past struct {
	judged []Run    // the first run of each that says something of it
	seated []seated // all whose seating was looked at
	newest Run
}

// seated is how a unit sat, in whichever of its runs.
type seated struct {
	unit     string
	reseated bool
	pins     []int
}

func (p past) with(run Run) past {
	p.newest = run
	if run.First {
		p.judged = append(p.judged, run)
	}
	if run.Outcome == sequence.Aborted {
		return p
	}
	i := slices.IndexFunc(p.seated, func(s seated) bool { return s.unit == run.Unit })
	if i < 0 {
		i = len(p.seated)
		p.seated = append(p.seated, seated{unit: run.Unit})
	}
	if s := &p.seated[i]; run.Outcome == sequence.Reseat {
		s.reseated, s.pins = true, union(s.pins, run.Pins)
	}
	return p
}

// last gives the last n of a list, none where there are fewer or n is no rule.
func last[T any](list []T, n int) []T {
	if n <= 0 || len(list) < n {
		return nil
	}
	return list[len(list)-n:]
}

// samePad has no number: one pad under two serial numbers is one too many, and only who
// looks at both can say which of them is wrong.
func (p past) samePad(product.Stops) (Met, bool) { return Met{Count: 1}, p.newest.Alike }

func (p past) sameFinding(limits product.Stops) (Met, bool) {
	row := last(p.judged, limits.SameFinding)
	if len(row) == 0 {
		return Met{}, false
	}
	for _, fault := range row[len(row)-1].Faults {
		if !slices.ContainsFunc(row, func(r Run) bool { return !slices.Contains(r.Faults, fault) }) {
			return Met{Fault: fault, Count: len(row)}, true
		}
	}
	return Met{}, false
}

func (p past) yield(limits product.Stops) (Met, bool) {
	window := last(p.judged, limits.Of)
	passed := 0
	for _, run := range window {
		if run.Outcome == sequence.Pass && run.Attempt == 1 {
			passed++
		}
	}
	return Met{Count: passed, Of: len(window)}, len(window) > 0 && float64(passed) < limits.Yield*float64(len(window))
}

func (p past) sameProbe(limits product.Stops) (Met, bool) {
	row := last(p.seated, limits.SameProbe)
	met := Met{Count: len(row)}
	if len(row) > 0 {
		met.Pins = common(row)
	}
	return met, len(met.Pins) > 0
}

// common are the pins that were doubtful at every unit.
func common(row []seated) (pins []int) {
	for _, pin := range row[0].pins {
		if !slices.ContainsFunc(row, func(s seated) bool { return !slices.Contains(s.pins, pin) }) {
			pins = append(pins, pin)
		}
	}
	return pins
}

func (p past) unseated(limits product.Stops) (Met, bool) {
	row := last(p.seated, limits.Unseated)
	met := Met{Count: len(row)}
	for _, s := range row {
		if !s.reseated {
			return Met{}, false
		}
		met.Pins = union(met.Pins, s.pins)
	}
	return met, len(row) > 0
}

// union are the pins of both, in order.
func union(a, b []int) []int {
	all := slices.Concat(a, b)
	slices.Sort(all)
	return slices.Compact(all)
}
