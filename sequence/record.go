package sequence

import (
	"time"

	"padjig/fixture"
	"padjig/sequence/prove"
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

	// NothingFound is what an engineering run ends with that found nothing: it tries a
	// definition, and says of no unit that it passed.
	NothingFound Outcome = "nothing found"
)

// HarnessOnly is what runs of before say that they proved with that outcome, and what not;
// see [HarnessProved].
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

	Engineering Purpose = "engineering" // a definition is tried, released or not
)

// OfCase reports whether runs of the purpose belong to a returns case.
func (p Purpose) OfCase() bool { return p != Production && p != GaugeStudy && p != Engineering }

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

// Run is everything one run over one unit found; it is what gets stored, and what
// programs get with --json.
type Run struct {
	Serial    string      `json:"serial"`        // of the unit
	Product   string      `json:"product"`       // code
	Revision  string      `json:"revision"`      // the engineer's label
	Hash      string      `json:"revision_hash"` // of the product's meaning, hexadecimal SHA-256
	Outcome   Outcome     `json:"verdict"`
	Why       Said        `json:"why,omitzero"`     // where the outcome is not pass or fail, and of a fail that reads like another unit; no code in runs of earlier versions that say something else
	Reason    string      `json:"reason,omitempty"` // the same as the record has it, for people; nothing is concluded from it
	Simulated bool        `json:"simulated"`        // measured on a simulated jig: never proof of a real unit
	Started   time.Time   `json:"started"`          // wall clock, UTC
	Duration  Seconds     `json:"seconds"`
	Jig       JigName     `json:"jig"`
	Operator  string      `json:"operator"`
	Attempt   int         `json:"attempt"` // 1 for the first
	Actuation Actuation   `json:"actuation"`
	Purpose   Purpose     `json:"purpose,omitempty"`
	Case      string      `json:"returns_case,omitempty"` // id of the returns case it belongs to, empty for production
	Steps     []StepDone  `json:"steps"`
	Seats     []Seat      `json:"seating"`
	Keys      []KeyResult `json:"keys"`     // one for each key of the product, in its order
	Pairs     []Pair      `json:"pairs"`    // abnormal ones only
	Findings  []Finding   `json:"findings"` // everything wrong, worst first

	Proofs     *prove.Account `json:"proofs"`     // what was proved and what is missing; none in runs of before, of which it is not known
	Insulation []Insulation   `json:"insulation"` // with nothing pressed, as it was read; none in runs of before

	Exercised []KeyExercise `json:"exercised,omitempty"` // keys pressed many times or held; none in production
}

// JigName says which jig measured.
type JigName struct {
	Serial   string `json:"serial"`
	Model    string `json:"model"`
	Firmware string `json:"firmware"`
	Adapter  string `json:"adapter"`
}

// StepDone says how far a planned step came.
type StepDone struct {
	Name string  `json:"step"`
	Done bool    `json:"done"`
	Took Seconds `json:"seconds"` // by the monotonic clock
}

// Seat is the contact between a jig channel and a tail pin.
type Seat struct {
	Pin  int                `json:"pin"`  // from 1
	Line string             `json:"line"` // empty for an unused pin
	Loop fixture.Resistance `json:"loop_resistance"`
	Good bool               `json:"good"`
}

// KeyResult is what was read at one key. Nil means not measured.
type KeyResult struct {
	Key     string              `json:"key"`
	Lines   [2]string           `json:"lines"`
	Verdict Verdict             `json:"verdict"`
	Closed  *fixture.Resistance `json:"contact_resistance"` // of an electrical press: the jig's own resistor
	Forward *fixture.Voltage    `json:"diode_drop"`         // of the series diode
	Reverse *fixture.Resistance `json:"diode_reverse"`      // against the series diode: its leakage, as a resistance
	Make    *fixture.Bounce     `json:"bounce_on_closing"`
	Break   *fixture.Bounce     `json:"bounce_on_opening"`

	Two *fixture.TwoCurrents `json:"two_currents,omitempty"` // where the product asks for it; Closed is then at the current it names
}

// Pair is an abnormal connection between two lines.
type Pair struct {
	Lines [2]string          `json:"lines"`
	While string             `json:"while"`                 // label of the key held meanwhile, empty with nothing pressed
	Ohm   fixture.Resistance `json:"insulation_resistance"` // the smaller of both polarities

	Forward  *fixture.Resistance `json:"forward"`         // the first line fed; none in old records, as the next
	Backward *fixture.Resistance `json:"backward"`        // the second line fed
	Trend    Trend               `json:"trend,omitempty"` // over a dwell; empty where none was watched
}

// Insulation is one reading of lines against lines with nothing pressed. What lies between
// a line of the one side and a line of the other is at least what was read: all of it
// together read so.
type Insulation struct {
	Step   string             `json:"step"`
	Feed   []string           `json:"fed"`      // lines; the other way round they are the Ground of another reading
	Ground []string           `json:"grounded"` // lines
	Ohm    fixture.Resistance `json:"insulation_resistance"`
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
	What  string   `json:"what"`          // code, such as "key open"; see the list of findings in docs
	At    Said     `json:"site,omitzero"` // its physical place; no code in runs of earlier versions that say something else
	How   []Said   `json:"how,omitempty"` // what is odd about it
	Place string   `json:"place"`         // both as the record has them, for people: "key 7 (R3-C1)"; nothing is concluded from it
	Key   string   `json:"key"`           // label, when the finding is about one key
	Lines []string `json:"lines"`         // lines concerned
	Pins  []int    `json:"pins"`          // their tail pins, from 1
	Value *Number  `json:"value"`         // measured, in the unit; none where it is over range or nothing was measured
	U     *Number  `json:"u"`             // standard uncertainty of the value
	Limit *Number  `json:"limit"`         // the limit applied, if there is one
	Unit  string   `json:"unit"`          // "ohm", "ms", "V" or ""
}
