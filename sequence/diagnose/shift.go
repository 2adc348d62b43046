package diagnose

import "slices"

// Shift is how likely a cause was before a check, and is after it.
type Shift struct {
	Cause   Cause
	Was, Is float64 // probabilities; 0 where it is not among the causes
}

// Shifts are all causes of two diagnoses of one unit: those of the first in its
// order, then those that the second alone has.
func Shifts(before, after Diagnosis) []Shift {
	var all []Shift
	old, now := before.weighed(), after.weighed()
	for _, c := range old {
		all = append(all, Shift{c, c.Weight, weightIn(now, c)})
	}
	for _, c := range now {
		if weightIn(old, c) == 0 {
			all = append(all, Shift{c, 0, c.Weight})
		}
	}
	return all
}

// weightIn is the weight of the same cause among others, 0 if it is not there.
func weightIn(causes []Cause, same Cause) float64 {
	for _, c := range causes {
		if c.same(&same) {
			return c.Weight
		}
	}
	return 0
}

// same reports whether two causes are the same thing at the same place, whatever its
// size and whatever words it is said in.
func (c *Cause) same(o *Cause) bool {
	return c.Kind == o.Kind && c.Key == o.Key && slices.Equal(c.Lines, o.Lines) && slices.Equal(c.Pins, o.Pins) &&
		slices.Equal(c.Between, o.Between) && slices.Equal(c.Also, o.Also)
}
