package pads

import (
	"fmt"
	"math"

	"padjig/sequence"
	"padjig/sequence/samepad"
)

// What is said of comparisons. The words are in the catalogue of facts, below "pads.".
const (
	Like       sequence.Code = "like"        // serial, run, how many times as likely
	Unlike     sequence.Code = "unlike"      // units compared with, keys, percent that pads differ by
	Few        sequence.Code = "too few"     // units there are, units it takes
	Alike      sequence.Code = "cannot tell" // units compared with, keys, percent that pads differ by
	Changed    sequence.Code = "changed"     // run before, how many times as likely another pad
	RestsOn    sequence.Code = "rests on"    // keys, percent that pads differ by, percent that presses of one differ by
	AsLeft     sequence.Code = "as left"     // run, stage, how many times as likely
	NotAsLeft  sequence.Code = "not as left" // run, stage, how many times as likely another pad
	Undecided  sequence.Code = "undecided"   // run, stage, ratio
	NearestOf  sequence.Code = "nearest"     // serial, run, how many times as likely, units searched
	NoneNearer sequence.Code = "none nearer" // units searched
	Limits     sequence.Code = "limits"      // keys, percent between pads, percent allowed for age, percent of keys that may have changed
)

// Codes are all of them.
func Codes() []sequence.Code {
	return []sequence.Code{Like, Unlike, Few, Alike, Changed, RestsOn, AsLeft, NotAsLeft, Undecided, NearestOf, NoneNearer, Limits}
}

// Facts say what a comparison came to and what it rests on; none where nothing was asked.
func (c Comparison) Facts() (facts []sequence.Said) {
	others, keys := fmt.Sprint(c.Others), fmt.Sprint(c.Keys)
	switch c.Conclusion {
	case SamePad:
		n := c.Nearest
		facts = append(facts, sequence.Fact(Like, n.Serial, n.ID.String(), times(n.Log)),
			sequence.Fact(RestsOn, keys, percent(c.Between), percent(n.Within)))
	case OtherPads:
		facts = append(facts, sequence.Fact(Unlike, others, keys, percent(c.Between)))
	case TooFew:
		facts = append(facts, sequence.Fact(Few, others, fmt.Sprint(samepad.LeastPads)))
	case NotTold:
		facts = append(facts, sequence.Fact(Alike, others, keys, percent(c.Between)))
	}
	if c.OwnChanged {
		facts = append(facts, sequence.Fact(Changed, c.Own.ID.String(), times(-c.Own.Log)))
	}
	return facts
}

// times says a logarithm as a factor.
func times(log float64) string {
	if tens := log / math.Ln10; tens >= 4 {
		return fmt.Sprintf("10^%.0f", tens)
	}
	return fmt.Sprintf("%.2g", math.Exp(log))
}

func percent(part float64) string { return fmt.Sprintf("%.2g", 100*part) }
