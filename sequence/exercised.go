package sequence

import "padjig/fixture"

// KeyExercise is what came of pressing a key many times and of holding it.
type KeyExercise struct {
	Key     string `json:"key"`
	Presses int    `json:"presses"`
	Misses  int    `json:"misses"`    // of them: the key did not close, or did not stay closed
	High    int    `json:"high"`      // closed, and for sure beyond its limit
	Sticks  int    `json:"sticks"`    // did not open when let go
	First   int    `json:"first_bad"` // number of the first press that was not good, from 1; 0 for none

	Least *fixture.Resistance `json:"minimum_contact_resistance"` // over all presses that closed, if any did
	Most  *fixture.Resistance `json:"maximum_contact_resistance"` // likewise
	Make  Milliseconds        `json:"bounce_on_closing_ms"`       // longest
	Break Milliseconds        `json:"bounce_on_opening_ms"`       // longest

	Held   fixture.Hold `json:"held"`   // held closed, nothing else moved
	Flexed fixture.Hold `json:"flexed"` // held closed while somebody moved the tail
}

// Bad is how many presses were not good.
func (e KeyExercise) Bad() int { return e.Misses + e.High + e.Sticks }
