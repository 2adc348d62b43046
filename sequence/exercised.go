package sequence

import (
	"time"

	"padjig/fixture"
)

// KeyExercise is what came of pressing a key many times and of holding it.
type KeyExercise struct {
	Key     string
	Presses int
	Misses  int // of them: the key did not close, or did not stay closed
	High    int // closed, and for sure beyond its limit
	Sticks  int // did not open when let go
	First   int // number of the first press that was not good, from 1; 0 for none

	Least, Most *fixture.Resistance // over all presses that closed; nil for none
	Make, Break time.Duration       // longest bounce

	Held   fixture.Hold // held closed, nothing else moved
	Flexed fixture.Hold // held closed while somebody moved the tail
}

// Bad is how many presses were not good.
func (e KeyExercise) Bad() int { return e.Misses + e.High + e.Sticks }
