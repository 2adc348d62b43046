// Package readings is what a diagnosis is made of: every reading of one unit as a plain
// value with its standard uncertainty, and what was not read.
package readings

import (
	"padjig/fixture/quantity"
	"padjig/sequence/diagnose/pattern"
	"padjig/sequence/diagnose/polish"
	"padjig/sequence/product"
)

// Unit is what is known of one unit after a run. Keys and lines are the product's, by
// index.
type Unit struct {
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

	// Earlier is what the units before failed with at the same places, by key and by tail
	// pin from 1; none where nobody looked.
	Earlier Earlier

	// Known are other products that are made here: one of them may have been put in.
	Known []*product.Product
}

// Earlier are the units before, place by place.
type Earlier struct {
	Keys map[int]pattern.Counts // by index of the product's keys
	Pins map[int]pattern.Counts // by pin of the tail, from 1
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
	Lines Lines
	Ohm   Reading // the smaller of both polarities
	// Forward has the first line fed, Backward the second; nil where not known.
	Forward, Backward *Reading
	Trend             Trend
	Gone              bool // not there any more when it was read again
	Again             bool // found only after the keys were pressed
}

// OneWay tells which way a connection conducts: 0 both, 1 from the lower line to the
// higher one only, -1 the other way; where it is not known, 0.
func (p *Pair) OneWay() int {
	if p.Forward == nil || p.Backward == nil {
		return 0
	}
	const much = 5
	f, b := p.Forward.Value, p.Backward.Value
	way := 0
	switch {
	case p.Backward.AtLeast && !p.Forward.AtLeast || b > much*f:
		way = 1
	case p.Forward.AtLeast && !p.Backward.AtLeast || f > much*b:
		way = -1
	}
	if p.Lines[0] > p.Lines[1] {
		way = -way
	}
	return way
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
	Lines Lines
	Ohm   Reading
}

// Key is what was read at one key.
type Key struct {
	State   KeyState
	Closed  *Reading // nil where it has no value; of a key not tested, one that decided nothing
	Forward *Forward // of a series diode
	Reverse *Reading // against a series diode
	Make    Bounce
	Break   Bounce
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

// Marked reports whether anything in time is not as it should be.
func (k *Key) Marked() bool {
	return k.Late || k.Teases || k.Unsteady || k.Make == Long || k.Break == Long
}

// Forward is the drop of a series diode with its standard uncertainty.
type Forward struct{ Value, U quantity.Volt }

// Bounce is how a contact came to rest.
type Bounce uint8

// The bounces; Long is beyond the limit of the key.
const (
	NotSeen Bounce = iota
	Short
	Long
)

// Open reports whether a resistance counts as no connection.
func (u *Unit) Open(ohm float64) bool { return ohm >= float64(u.Closure) }

// HasDiode reports whether key k has a series diode.
func (u *Unit) HasDiode(k int) bool { return u.Product.Keys[k].Diode != product.NoDiode }

// Value is what key k read when it closed, nil where that has no value.
func (u *Unit) Value(k int) *Reading {
	if key := &u.Keys[k]; key.State == Closed && key.Closed != nil && !key.Closed.AtLeast {
		return key.Closed
	}
	return nil
}

// Wrong reports whether anything in the evidence is not as it should be.
func (u *Unit) Wrong() bool {
	if u.SelfTest == Failed || len(u.Rest) > 0 || len(u.Held) > 0 || len(u.Joins) > 0 || u.Gone {
		return true
	}
	for _, s := range u.Seats {
		if !s.Good && u.Product.Tail[s.Pin-1] != "" {
			return true
		}
	}
	for k := range u.Keys {
		if u.KeyWrong(k) {
			return true
		}
	}
	return u.Doubt > 0 && u.Noisy() // beyond what the stage was planned with
}

// KeyWrong reports whether a key is not as the product wants it.
func (u *Unit) KeyWrong(k int) bool {
	key, limits := &u.Keys[k], &u.Product.Keys[k].Limits
	switch {
	case key.State == NotTested:
		return false
	case key.State != Closed, key.Marked(), key.Ghost, key.Stray:
		return true
	case key.Closed != nil && !key.Closed.Within(limits):
		return true
	}
	backwards := key.Reverse != nil && !key.Reverse.AtLeast && key.Reverse.Value < u.Closure
	return backwards || key.DiodeWrong(limits)
}

// Within reports whether a closed reading is surely within its limits.
func (r Reading) Within(limits *product.Limits) bool {
	band := quantity.Ohm(2*limits.Guard) * r.U
	return !r.AtLeast && r.Value <= limits.ClosedMax-band &&
		(limits.ClosedMin == 0 || r.Value >= limits.ClosedMin+band)
}

// DiodeWrong reports whether the drop of a key's diode is not surely within its limits.
func (k *Key) DiodeWrong(limits *product.Limits) bool {
	if f := k.Forward; f != nil {
		band := quantity.Volt(2*limits.Guard) * f.U
		return f.Value < limits.ForwardMin+band || f.Value > limits.ForwardMax-band
	}
	return false
}

// noiseLimit is the relative standard uncertainty of a closed reading above which it is
// noise and no reading: references are known ten times better or more.
const noiseLimit = 0.02

// Noisy reports whether most closed readings are uncertain beyond what a jig states of
// itself, and beyond what the stage was content with when it was planned: what was read
// came and went, whatever the key.
func (u *Unit) Noisy() bool {
	var beyond []float64
	for k := range u.Keys {
		if r := u.Keys[k].Closed; r != nil && !r.AtLeast && r.Value > 0 && !u.HasDiode(k) {
			stands := max(noiseLimit*float64(r.Value), u.Doubt*float64(u.Product.Keys[k].Limits.ClosedMax))
			beyond = append(beyond, float64(r.U)/stands)
		}
	}
	return len(beyond) >= 3 && polish.Median(beyond) > 1
}
