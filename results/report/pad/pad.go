// Package pad is the keypad as it looks, with what is known of each key: one
// model for terminals, pages and printed reports. [Pad.Text] writes it with box
// characters; [Pad.Live], [Pad.Chart] and [Pad.Printed] draw it as SVG. What is
// marked on one is marked on all: a [State] has its sign and its class here.
package pad

import (
	"math"
	"slices"

	"padjig/sequence"
	"padjig/sequence/product"
)

// Pad is a keypad with something to be said of its keys.
type Pad struct {
	Title, Desc string // read aloud; Desc alone where the title stands beside the drawing
	Keys        []Key
	// Scale says what no shade and the darkest mean. Without it keys are not shaded.
	Scale [2]string
	// Tracks are lines that something is wrong with, Pin the word before the number of a
	// pin; Lined: there is room for their names also where there are none yet.
	Tracks []Track
	Pin    string
	Lined  bool
}

// Key is a key at its place.
type Key struct {
	Label      string
	X, Y, W, H float64 // in key pitches
	State      State
	Defect     int     // number of the finding that it failed for, 0: none
	Value      float64 // that its shade stands for; NaN: nothing known, hatched
	// Beneath the label: what was read before and now, or how many; and by how much it changed.
	Then, Now, Change string
	Worst             string // a reading between then and now that was worse; in place of the change
	Tip               string // shown while a pointer rests on the key
	Link              string // to what is behind it, where there is anything
}

// State is what is known of a key.
type State int

// The states of a key in a test, then those of a key of a returned unit.
const (
	Plain    State = iota // nothing is to be said
	Waiting               // not tested yet
	Untested              // the run ended without a verdict on it
	Passed
	Failed
	Asked // a person is to press it
	Next  // a person is to press it now
	Held  // a person may let go of it
	Same
	Unread
	Rose
	Fell
	Thin // it left with less margin than its guard band
	Wrong
	Was // a stage found it at fault, and a later one did not
)

// marks are the sign of each state in text, its class in SVG, and whether the
// sign stands before the label there too.
var marks = [...]struct {
	sign, class string
	loud        bool
}{
	Plain: {"", "wait", false}, Waiting: {" ", "wait", false}, Untested: {"?", "wait", false},
	Passed: {"·", "good", false}, Failed: {"✗", "bad", true},
	Asked: {" ", "ask", false}, Next: {" ", "ask next", false}, Held: {" ", "held", false},
	Same: {"·", "same", false}, Unread: {"?", "unread", false}, Rose: {"+", "changed", false}, Fell: {"-", "changed", false},
	Thin: {"!", "thin", true}, Wrong: {"✗", "wrong", true}, Was: {"~", "was", true},
}

// Class is the class of the state's keys in SVG.
func (s State) Class() string { return marks[s].class }

// StateOf is the state of a key with a verdict.
func StateOf(v sequence.Verdict) State {
	switch v {
	case sequence.KeyPass:
		return Passed
	case sequence.KeyUntested:
		return Untested
	}
	return Failed
}

// Of is a product's pad with the same state for all keys.
func Of(keys []product.Key, all State) Pad {
	p := Pad{Keys: make([]Key, len(keys))}
	for i, k := range keys {
		p.Keys[i] = Key{Label: k.Label, X: k.X, Y: k.Y, W: k.W, H: k.H, State: all}
	}
	return p
}

// OfRun is a product's pad with the verdicts of a run, as far as it is; failed
// keys have the number of their finding.
func OfRun(keys []product.Key, results []sequence.KeyResult, findings []sequence.Finding) Pad {
	p := Of(keys, Waiting)
	p.Tracks = tracksOf(results[:min(len(results), len(keys))], findings)
	for i, r := range results[:min(len(results), len(keys))] {
		k := &p.Keys[i]
		if k.State = StateOf(r.Verdict); k.State == Failed {
			k.Defect = findingOf(findings, r)
		}
	}
	return p
}

// findingOf is the number of the finding that a key failed for, from 1: its
// own, or one about a line of it; 0 for none.
func findingOf(findings []sequence.Finding, key sequence.KeyResult) int {
	own := slices.IndexFunc(findings, func(f sequence.Finding) bool { return f.Key == key.Key })
	if own < 0 {
		own = slices.IndexFunc(findings, func(f sequence.Finding) bool {
			return f.Key == "" && (slices.Contains(f.Lines, key.Lines[0]) || slices.Contains(f.Lines, key.Lines[1]))
		})
	}
	return own + 1
}

// Count is how many keys are in a state.
func (p Pad) Count(s State) (n int) {
	for _, k := range p.Keys {
		if k.State == s {
			n++
		}
	}
	return n
}

// mostRoomy is how many key pitches wide a pad may be to leave room for figures
// in its keys on a printed page.
const mostRoomy = 10

// Roomy reports whether keys have room for figures on a printed page.
func (p Pad) Roomy() bool {
	left, _, right, _ := p.extent()
	return right-left <= mostRoomy
}

func (p Pad) shaded() bool { return p.Scale != [2]string{} }

// extent is where the pad ends on each side.
func (p Pad) extent() (left, top, right, bottom float64) {
	if len(p.Keys) == 0 {
		return 0, 0, 1, 0
	}
	left, top, right, bottom = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, k := range p.Keys {
		left, top = min(left, k.X), min(top, k.Y)
		right, bottom = max(right, k.X+k.W), max(bottom, k.Y+k.H)
	}
	return left, top, right, bottom
}

// shade is 0 for nothing at all, then 1 to steps; a value without bound is
// darker than any number.
func (p Pad) shade(v float64, steps int) int {
	most := 0.0
	for _, k := range p.Keys {
		if k.Value > most && !math.IsInf(k.Value, 1) {
			most = k.Value
		}
	}
	switch {
	case math.IsInf(v, 1):
		return steps
	case !(v > 0):
		return 0
	}
	return min(steps, int(math.Ceil(float64(steps)*v/most*(1-1e-9))))
}
