package sequence

import (
	"time"

	"padjig/fixture"
)

// Outcome is what is said of a unit at the end of a run.
type Outcome string

// The outcomes. Only Pass lets a unit leave the line; only Fail blames the unit.
const (
	Pass       Outcome = "pass"
	Fail       Outcome = "fail"
	Reseat     Outcome = "reseat"     // the jig's contact to the unit is doubtful
	Incomplete Outcome = "incomplete" // a step was left out or a key was never pressed
	Aborted    Outcome = "aborted"    // the run was interrupted

	// HarnessGood is what an electrical press ends with that found nothing: no
	// key was touched, so that it is neither a pass nor an attempt.
	HarnessGood Outcome = "harness good"
)

// HarnessOnly says what a run with that outcome proved and what it did not.
const HarnessOnly = "no key was pressed: proved are jig, harness and that nothing connects the lines; " +
	"not proved are contacts, contact resistance, bounce and that the lines reach the keys"

// Purpose is why a run was made. Only a production run is an attempt, and only
// production runs say whether a unit passed.
type Purpose string

// The purposes. The three of the returns desk are made in the order they stand.
const (
	Production Purpose = ""            // may the unit leave the line? Also every run of before
	FirstPress Purpose = "first press" // one gentle press a key, before anything can disturb a fault
	ReturnTest Purpose = "return test" // the production test, on a unit that came back
	Exercise   Purpose = "exercise"    // many presses, keys held, the tail moved
	GaugeStudy Purpose = "gauge study" // the same units again and again, to know the jig
)

// OfCase reports whether runs of the purpose belong to a returns case.
func (p Purpose) OfCase() bool { return p != Production && p != GaugeStudy }

// Verdict is what is said of one key.
type Verdict string

// The verdicts of a key.
const (
	KeyPass     Verdict = "pass"
	KeyFail     Verdict = "fail"
	KeyUntested Verdict = "untested" // not reached, or hidden behind another fault
)

// Actuation is how the keys were pressed.
type Actuation string

// The ways of pressing.
const (
	Mechanical Actuation = "mechanical" // an actuator pushed the key
	Electrical Actuation = "electrical" // the jig joined the key's lines through a known resistor
	Hand       Actuation = "hand"       // a person pressed
)

// Run is everything one run over one unit found; it is what gets stored.
type Run struct {
	Serial    string // of the unit
	Product   string // code
	Revision  string // the engineer's label
	Hash      string // of the product's meaning, hexadecimal SHA-256
	Jig       JigName
	Simulated bool // measured on a simulated jig: never proof of a real unit
	Actuation Actuation
	Operator  string
	Purpose   Purpose
	Case      string    // id of the returns case it belongs to, empty for production
	Attempt   int       // 1 for the first
	Started   time.Time // wall clock, UTC
	Duration  time.Duration
	Outcome   Outcome
	Why       Said   // where the outcome is not pass or fail; no code in runs of earlier versions that say something else
	Reason    string // the same as the record has it, for people; nothing is concluded from it
	Steps     []StepDone
	Seats     []Seat
	Keys      []KeyResult // one for each key of the product, in its order
	Pairs     []Pair      // abnormal ones only
	Findings  []Finding   // everything wrong, worst first

	Exercised []KeyExercise // keys pressed many times or held; none in production
}

// JigName says which jig measured.
type JigName struct {
	Serial, Model, Firmware, Adapter string
}

// StepDone says how far a planned step came.
type StepDone struct {
	Name string
	Done bool
	Took time.Duration // by the monotonic clock
}

// Seat is the contact between a jig channel and a tail pin.
type Seat struct {
	Pin  int    // from 1
	Line string // empty for an unused pin
	Loop fixture.Resistance
	Good bool
}

// KeyResult is what was read at one key. Nil means not measured.
type KeyResult struct {
	Key     string
	Lines   [2]string
	Verdict Verdict
	Closed  *fixture.Resistance
	Forward *fixture.Voltage    // drop of the series diode
	Reverse *fixture.Resistance // against the series diode: its leakage, as a resistance
	Make    *fixture.Bounce
	Break   *fixture.Bounce
}

// Pair is an abnormal connection between two lines.
type Pair struct {
	Lines [2]string
	While string             // label of the key held meanwhile, empty with nothing pressed
	Ohm   fixture.Resistance // the smaller of both polarities

	Forward, Backward *fixture.Resistance // the first line fed, and the second; nil in old records
	Trend             Trend               // over a dwell; empty where none was watched
}

// Trend is how a leak behaved while it was watched under voltage.
type Trend string

// The trends of a leak. Silver that grows between lines and moisture fall;
// what charges up rises.
const (
	Steady  Trend = "steady"
	Rising  Trend = "rising"
	Falling Trend = "falling"
)

// Finding is one thing wrong with a unit, said so that a repairer can start.
type Finding struct {
	What  string   // code, such as "key open"; see the list of findings in docs
	At    Said     // its physical place; no code in runs of earlier versions that say something else
	How   []Said   // what is odd about it
	Place string   // both as the record has them, for people: "key 7 (R3-C1)"; nothing is concluded from it
	Key   string   // label, when the finding is about one key
	Lines []string // lines concerned
	Pins  []int    // their tail pins, from 1
	Value *float64 // measured, nil when there is none; in Unit
	U     *float64 // standard uncertainty of Value
	Limit *float64 // the limit applied, nil when there is none
	Unit  string   // "ohm", "ms", "V" or ""
}
