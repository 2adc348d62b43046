package diagnose

import (
	"time"

	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

// Evidence is what is known of one unit after a run. Keys and lines are the product's,
// by index.
type Evidence struct {
	Product *product.Product
	// Closure is the resistance below which two lines count as connected while keys
	// are pressed.
	Closure quantity.Ohm

	SelfTest Step // the jig read its own check resistors
	Rested   Step // all lines were read against each other with nothing pressed
	Pressed  bool // keys were really pressed, and not joined electrically

	// Doubt is the largest standard uncertainty of a closed reading, as a part of its key's
	// limit, that the stage was planned with; zero for a stage that reads as well as it can.
	Doubt float64

	Seats []Seat
	Rest  []Pair // what was found connected at rest; any other pair is above its limit
	Keys  []Key  // one for each key of the product
	Held  []Held // what else was found connected while a key was held
	// Gone is set when lines were connected at rest and were not any more when they
	// were looked for: nobody knows which.
	Gone bool

	// Joins are the keys whose lines, joined by the jig through its known resistor, did
	// not read it.
	Joins []int

	// Known are other products that are made here: one of them may have been put in.
	Known []*product.Product
	// Looked are the results of checks proposed by an earlier diagnosis.
	Looked []Looked
}

// Step says what became of a step.
type Step uint8

// What can become of a step.
const (
	NotDone Step = iota
	Done
	Failed // done, and the jig did not pass it
)

// Reading is a resistance with its standard uncertainty.
type Reading struct {
	Value, U quantity.Ohm
	// AtLeast is set for a reading beyond the range: the resistance is at least
	// Value, and U says nothing.
	AtLeast bool
}

// Seat is the loop through both probes of a channel.
type Seat struct {
	Pin  int // of the tail, from 1
	Loop Reading
	Good bool
}

// Pair is a connection between two lines at rest.
type Pair struct {
	Lines [2]int
	Ohm   Reading // the smaller of both polarities
	// Forward has the first line fed, Backward the second; nil where not known.
	Forward, Backward *Reading
	Trend             Trend
	Gone              bool // not there any more when it was read again
	Again             bool // found only after the keys were pressed
}

// Trend is how a leak behaved while it was watched under voltage.
type Trend int8

// The trends; Unwatched is not Steady.
const (
	Unwatched Trend = iota
	Steady
	Rising
	Falling
)

// Held is a connection between two lines found while a key was held, besides the key's
// own or instead of it.
type Held struct {
	Key   int
	Lines [2]int
	Ohm   Reading
}

// Key is what was read at one key.
type Key struct {
	State   KeyState
	Closed  *Reading // nil where it has no value; of a key not tested, one that decided nothing
	Forward *Forward // of a series diode
	Reverse *Reading // against a series diode
	Make    *Bounce
	Break   *Bounce
	Late    bool // still closed when it should have opened
	Teases  bool // came and went while going down or while held
	// Unsteady is set when it was closed at first, and not when it was read again.
	Unsteady bool
	// Ghost is set when current ran backwards through its diode with three corners of a
	// rectangle held.
	Ghost bool
	// Alone is set when it is known that nothing else closed while it was held, apart
	// from what Held lists.
	Alone bool
	// Stray is set when something else closed while it was held and nobody looked what,
	// since that would have pressed it again.
	Stray bool
}

// KeyState is how a key answered a press.
type KeyState uint8

// The states. A key that is hidden behind a connection at rest is not tested.
const (
	NotTested KeyState = iota
	Closed
	Open     // no contact
	Reversed // contact only against the direction of its diode
	NoLaw    // contact, but no diode's law in it
)

// Forward is the drop of a series diode with its standard uncertainty.
type Forward struct{ Value, U quantity.Volt }

// Bounce is how long a contact took to come to rest, and whether that is beyond its limit.
type Bounce struct {
	Time time.Duration
	Long bool
}

// Wrong reports whether anything in the evidence is not as it should be.
func (e *Evidence) Wrong() bool {
	if e.SelfTest == Failed || len(e.Rest) > 0 || len(e.Held) > 0 || len(e.Joins) > 0 || e.Gone {
		return true
	}
	for _, s := range e.Seats {
		if !s.Good && e.Product.Tail[s.Pin-1] != "" {
			return true
		}
	}
	for k := range e.Keys {
		if e.keyWrong(k) {
			return true
		}
	}
	return e.Doubt > 0 && e.noisy() // beyond what the stage was planned with
}

// keyWrong reports whether a key is not as the product wants it.
func (e *Evidence) keyWrong(k int) bool {
	key, limits := &e.Keys[k], &e.Product.Keys[k].Limits
	switch {
	case key.State == NotTested:
		return false
	case key.State != Closed, key.Late, key.Teases, key.Unsteady, key.Ghost, key.Stray:
		return true
	case key.Make != nil && key.Make.Long, key.Break != nil && key.Break.Long:
		return true
	case key.Closed != nil && !inside(*key.Closed, *limits):
		return true
	}
	backwards := key.Reverse != nil && !key.Reverse.AtLeast && key.Reverse.Value < e.Closure
	return backwards || key.diodeWrong(limits)
}

func inside(r Reading, limits product.Limits) bool {
	band := quantity.Ohm(2*limits.Guard) * r.U
	return !r.AtLeast && r.Value <= limits.ClosedMax-band &&
		(limits.ClosedMin == 0 || r.Value >= limits.ClosedMin+band)
}

func (k *Key) diodeWrong(limits *product.Limits) bool {
	if f := k.Forward; f != nil {
		band := quantity.Volt(2*limits.Guard) * f.U
		return f.Value < limits.ForwardMin+band || f.Value > limits.ForwardMax-band
	}
	return false
}

// noiseLimit is the relative standard uncertainty of a closed reading above which it is
// noise and no reading: references are known ten times better or more.
const noiseLimit = 0.02

// noisy reports whether most closed readings are uncertain beyond what a jig states of
// itself, and beyond what the stage was content with when it was planned: what was read
// came and went, whatever the key.
func (e *Evidence) noisy() bool {
	var beyond []float64
	for k := range e.Keys {
		key := &e.Product.Keys[k]
		if r := e.Keys[k].Closed; r != nil && !r.AtLeast && r.Value > 0 && key.Diode == product.NoDiode {
			stands := max(noiseLimit*float64(r.Value), e.Doubt*float64(key.Limits.ClosedMax))
			beyond = append(beyond, float64(r.U)/stands)
		}
	}
	return len(beyond) >= 3 && median(beyond) > 1
}
