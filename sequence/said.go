package sequence

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

// Said is a fact: a code and its arguments. Whoever decides reads the code; words
// are made of it last, and not here.
type Said struct {
	Code Code
	Args []string
}

// MarshalJSON writes one list, the code first; nothing there is written null.
func (s Said) MarshalJSON() ([]byte, error) {
	if s.Code == "" {
		return []byte("null"), nil
	}
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false) // for whoever writes the whole to decide
	err := encoder.Encode(append([]string{string(s.Code)}, s.Args...))
	return bytes.TrimSpace(text.Bytes()), err
}

// UnmarshalJSON reads such a list.
func (s *Said) UnmarshalJSON(text []byte) error {
	var list []string
	if err := json.Unmarshal(text, &list); err != nil || len(list) == 0 {
		return err
	}
	*s = Fact(Code(list[0]), append([]string(nil), list[1:]...)...)
	return nil
}

// Code names a place, what is odd about a finding, or why a run ended as it did.
type Code string

// Where something is, as far as it is known.
const (
	AtKey         Code = "key"                // label, its lines
	AtLines       Code = "lines"              // line, pin, line, pin
	AtStep        Code = "some lines"         // step
	AtHeld        Code = "while held"         // key, its lines
	AtLinesHeld   Code = "lines while held"   // line, pin, line, pin, key, its lines
	AtNoKey       Code = "lines of no key"    // line, pin, line, pin
	AtExchanged   Code = "changed places"     // line, pin, line, pin
	AtFirstKey    Code = "before first key"   // line, pin
	AtBreak       Code = "between keys"       // line, key, key
	AtMoreFirst   Code = "more before first"  // line, ohm, pin
	AtMoreBetween Code = "more between"       // line, ohm, key, key
	AtOtherKeys   Code = "through other keys" // key, the three that are held, the one whose diode does not block, its lines
)

// What is odd about a finding.
const (
	Gone         Code = "gone when looked for"
	GoneAgain    Code = "gone when read again"
	NotLocated   Code = "aborted before located"
	NotLookedFor Code = "aborted before looked for"
	NotAtFirst   Code = "not looked for at first press"
	WhileRising  Code = "rising while watched"
	WhileFalling Code = "falling while watched"
	OnlyAfter    Code = "only after presses" // the first reading at rest did not show it
	OpenAgain    Code = "open again while held"
	OfPresses    Code = "of presses"      // times, presses, number of the first
	LongestOf    Code = "longest of"      // presses
	OpenedOnce   Code = "opened once"     // time watched
	Opened       Code = "opened"          // times, time watched
	OpenedMore   Code = "opened at least" // times, time watched
	TailMoved    Code = "tail moved"
	NotOhmic     Code = "not ohmic" // resistance and current, resistance and current
)

// Why a run ended with neither pass nor fail.
const (
	SeatUnproven  Code = "seat unproven"  // a line reads open on a jig that cannot prove its seating
	SeatDoubtful  Code = "seat doubtful"  // pins with their lines
	SeatNone      Code = "no contact"     // no pin has any
	TailOffOne    Code = "tail off by 1"  // one pin
	TailOff       Code = "tail off"       // pins
	TailTurned    Code = "tail turned"    // the wrong way round
	WithinGuard   Code = "within guard"   // keys
	SomeExercised Code = "some exercised" // keys
	StepLeft      Code = "step left out"  // none
	NeverPressed  Code = "never pressed"  // keys
	NotLetGo      Code = "not let go"     // key or lines, patience
	NoKeyPressed  Code = "no key pressed" // what a good harness proved before; see HarnessOnly
	HarnessProved Code = "harness proved" // proofs, gaps
	NotProved     Code = "not proved"     // gaps
	OnTrial       Code = "on trial"       // what an engineering run proves

	// Said of a fail too: it stays one.
	SamePad     Code = "same pad"     // serial of another unit, its run, keys compared
	NotCompared Code = "not compared" // the error

	JigMisreads Code = "jig misreads" // jig, check resistor, reading, range
	// MeasurementDoubtful is of a jig that is disturbed: it says nothing of the unit.
	MeasurementDoubtful Code = "measurement doubtful" // jig, reading, reading of the same
	// So are these, by what the jig reads of itself: jig, range, change and what is explained, in ppm.
	DriftedVerified  Code = "drifted since verification"
	DriftedSession   Code = "drifted between units"
	DriftedMeanwhile Code = "drifted meanwhile"
	ScaleDoubtful    Code = "scale doubtful"  // jig, its ground and its Vref as it reads them, in percent of Vref
	InputsDoubtful   Code = "inputs doubtful" // jig, current of an input, what it states of one
	NoiseDoubtful    Code = "noise doubtful"  // jig, noise, what it states, in ppm of Vref

	LidOpened   Code = "lid opened"
	Emergency   Code = "emergency stop"
	Interrupted Code = "interrupted" // by somebody
	JigFailed   Code = "jig failed"  // the error
)

// Why a reference unit does not show what it must.
const (
	NoReference  Code = "no reference"      // serial, product
	NotPressed   Code = "not pressed"       // outcome, what was found or why
	GoodYet      Code = "good, yet"         // outcome, what was found or why
	MustFailYet  Code = "must fail, yet"    // finding, outcome, what was found or why
	MustFailPass Code = "must fail, passed" // finding
	AlsoFound    Code = "also found"        // what was found
	NotFound     Code = "not found"         // finding
	BeyondBand   Code = "beyond its band"   // key, reading, change in percent, reading of its first check, band in percent
)

var (
	places = []Code{AtKey, AtLines, AtStep, AtHeld, AtLinesHeld, AtNoKey, AtExchanged, AtFirstKey, AtBreak, AtMoreFirst,
		AtMoreBetween, AtOtherKeys}
	manners = []Code{Gone, GoneAgain, NotLocated, NotLookedFor, NotAtFirst, WhileRising, WhileFalling, OnlyAfter, OpenAgain,
		OfPresses, LongestOf, OpenedOnce, OpenedMore, Opened, TailMoved, NotOhmic}
	reasons = []Code{SeatUnproven, SeatDoubtful, SeatNone, TailOffOne, TailOff, TailTurned, WithinGuard, SomeExercised, StepLeft,
		NeverPressed, NotLetGo, NoKeyPressed, HarnessProved, NotProved, SamePad, NotCompared, OnTrial}
	checks = []Code{NoReference, NotPressed, GoodYet, MustFailYet, MustFailPass, AlsoFound, NotFound, BeyondBand}
	doubts = []Code{MeasurementDoubtful, DriftedVerified, DriftedSession, DriftedMeanwhile, ScaleDoubtful, InputsDoubtful,
		NoiseDoubtful}
	aborts = append([]Code{JigMisreads, LidOpened, Emergency, Interrupted, JigFailed}, doubts...)
)

// Codes are all that a run can say: where a finding is, what is odd about it, and why
// the run ended as it did.
func Codes() (where, odd, why []Code) {
	return places, manners, append(slices.Clone(reasons), aborts...)
}

// Checks are all that can be said of a reference unit that does not show what it must.
func Checks() []Code { return slices.Clone(checks) }

// Doubtful reports whether it says that the jig's readings are not to be gone by: nothing is
// known of the unit then.
func (s Said) Doubtful() bool { return slices.Contains(doubts, s.Code) }

// SelfTestFaults are what a jig's self-test stops a run for.
func SelfTestFaults() []Code { return append([]Code{JigMisreads}, doubts[1:]...) }

// Fact is a code with its arguments.
func Fact(code Code, args ...string) Said { return Said{code, args} }

// Says reports whether something odd about the finding is what code names.
func (f Finding) Says(code Code) bool {
	return slices.ContainsFunc(f.How, func(s Said) bool { return s.Code == code })
}

// NamesPins reports whether a place says at which pins of the tail it is.
func (s Said) NamesPins() bool {
	return slices.Contains([]Code{AtLines, AtLinesHeld, AtNoKey, AtExchanged}, s.Code)
}

// Sentences are what the record says of facts beside their codes, for people who read
// it without this program.
type Sentences map[Code]string

// Of says a fact; one that has no sentence is said as it is kept.
func (s Sentences) Of(fact Said) string {
	text, known := s[fact.Code]
	if !known {
		return strings.Join(append([]string{string(fact.Code)}, fact.Args...), " ")
	}
	var places []string
	for i, arg := range fact.Args {
		places = append(places, fmt.Sprintf("{%d}", i), arg)
	}
	return strings.NewReplacer(places...).Replace(text)
}

// Spell writes into a run what the record says of its facts, last of all: nothing is
// concluded from it. What an error says of itself stays.
func (s Sentences) Spell(run *Run) {
	for i := range run.Findings {
		f := &run.Findings[i]
		f.Place = s.Of(f.At)
		for _, how := range f.How {
			f.Place += s.Of(how)
		}
	}
	if run.Why.Code != "" && run.Outcome != Aborted {
		run.Reason = s.Of(run.Why)
	}
}

// Plain are the sentences of the record. They are part of its hash, and what is counted
// as one place goes by them: they do not change when the catalogue is reworded.
func Plain() Sentences {
	return Sentences{
		AtKey:         "key {0} ({1}-{2})",
		AtLines:       "between {0} (pin {1}) and {2} (pin {3})",
		AtStep:        "between lines, at {0}",
		AtHeld:        "while key {0} ({1}-{2}) was held",
		AtLinesHeld:   "{0} (pin {1}) and {2} (pin {3}) while key {4} ({5}-{6}) is held",
		AtNoKey:       "{0} (pin {1}) and {2} (pin {3}) when a key was pressed; no key joins them",
		AtExchanged:   "{0} (pin {1}) and {2} (pin {3}) have changed places",
		AtFirstKey:    "line {0} open between pin {1} and its first key",
		AtBreak:       "line {0} broken between keys {1} and {2}, tail side good",
		AtMoreFirst:   "line {0} has about {1} more before its first key, from pin {2} on",
		AtMoreBetween: "line {0} has about {1} more between keys {2} and {3}",
		AtOtherKeys:   "key {0} reads closed while {1}, {2} and {3} are held: the diode of key {4} ({5}-{6}) does not block",

		Gone:         "; gone when looked for",
		GoneAgain:    "; gone when read again",
		NotLocated:   "; the run was aborted before it was located",
		NotLookedFor: "; the run was aborted before it was looked for",
		NotAtFirst:   "; not looked for at a first press",
		WhileRising:  "; rising while watched",
		WhileFalling: "; falling while watched",
		OnlyAfter:    "; only after the keys were pressed",
		OpenAgain:    "; open again while held",
		OfPresses:    ", {0} of {1} presses, the first at press {2}",
		LongestOf:    ", the longest of {0} presses",
		OpenedOnce:   ", 1 opening in {0}, the longest",
		Opened:       ", {0} openings in {1}, the longest",
		OpenedMore:   ", at least {0} openings in {1}, the longest",
		TailMoved:    ", while the tail was moved",
		NotOhmic:     "; not ohmic: {0} at {1}, {2} at {3}",

		SeatUnproven:  "a line reads open, and this jig cannot prove its contact to the tail: reseat the unit once",
		SeatDoubtful:  "no sure contact at {0}: reseat the unit; if it stays, have the probe cleaned",
		SeatNone:      "no pin has contact: is there a unit in the jig?",
		TailOffOne:    "the tail sits {0} pin off its place: reseat the unit",
		TailOff:       "the tail sits {0} pins off its place: reseat the unit",
		TailTurned:    "the tail is the wrong way round: turn the unit",
		WithinGuard:   "within the guard band at a first press, which is not repeated: {0}",
		SomeExercised: "only these keys were exercised: {0}",
		StepLeft:      "a step of the plan was not done",
		NeverPressed:  "never pressed: {0}",
		NotLetGo:      "{0} was not let go within {1}, or stays closed",
		NoKeyPressed:  HarnessOnly,
		SamePad:       "the readings are those of unit {0} in run {1}, over {2} keys: this is that pad once more, or one of both labels is wrong",
		NotCompared:   "not compared with the units before: {0}",
		HarnessProved: "no key was pressed; proved: {0}; not proved: {1}",
		NotProved:     "nothing found, yet a pass has to prove more: {0}",
		OnTrial:       "an engineering run tries a definition: the unit has not passed, and still needs its test",
		JigMisreads:   "jig {0} reads its own check resistor of {1} as {2}: have the fixture engineer look at range {3}",
		MeasurementDoubtful: "measurement doubtful: jig {0} read {1}, and then {2} between the same lines with nothing pressed: keep mains leads and " +
			"motors away from the nest, look at its earth, its screen and the length of its cable, then test again; " +
			"else have the fixture engineer look at it",
		DriftedVerified: "measurement doubtful: jig {0} reads its own check resistor on range {1} {2} ppm other than at its last verification; " +
			"drift and noise explain {3} ppm: let it come to room temperature, then zero and verify it before more units are tested",
		DriftedSession: "measurement doubtful: jig {0} reads its own check resistor on range {1} {2} ppm other than at a unit before; " +
			"drift and noise explain {3} ppm: let it come to room temperature, then zero and verify it before more units are tested",
		DriftedMeanwhile: "measurement doubtful: jig {0} reads its own check resistor on range {1} {2} ppm other than when this unit's test began; " +
			"drift and noise explain {3} ppm: let it come to room temperature, then zero and verify it before more units are tested",
		ScaleDoubtful:  "measurement doubtful: the converter of jig {0} reads the jig's own ground as {1} % and its reference voltage as {2} % of that: have the fixture engineer look at it",
		InputsDoubtful: "measurement doubtful: an input of jig {0} takes {1}, and it states {2} (standard uncertainty): clean and dry the nest, keep mains leads away, then test again; else have the fixture engineer look at its inputs and clamps",
		NoiseDoubtful:  "measurement doubtful: conversions of jig {0} scatter by {1} ppm of its reference voltage, and it states {2}: keep mains leads and motors away, look at its earth and its supply, then test again; else have the fixture engineer look at it",
		Interrupted:    "interrupted by somebody at this computer",

		NoReference:  "{0} is no reference unit of {1}",
		NotPressed:   "{0}: {1}, and no key was pressed: test the unit with its keys pressed",
		GoodYet:      "a good unit, yet {0}: {1}",
		MustFailYet:  `must fail for "{0}", yet {1}: {2}`,
		MustFailPass: `must fail for "{0}", yet pass`,
		AlsoFound:    "also found {0}",
		NotFound:     `"{0}" was not found where it is`,
		BeyondBand:   "key {0} reads {1}, {2} % from the {3} of its first check, band {4} %",
	}
}
