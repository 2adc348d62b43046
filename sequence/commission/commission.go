// Package commission says whether a jig that somebody has built is as it states itself: the
// steps of its commissioning, in their order, what each wants of the one before, and the
// criteria of each, in figures that follow from the jig's identity.
//
// It knows no clock, no file and no person. What asks the jig ([Reader]) and what judges
// ([Checks], [Leakage], ...) are kept apart: a result is made from readings alone.
package commission

import (
	"slices"

	"padjig/fixture"
	"padjig/sequence"
)

// Step names a step; its words are the text "commission.step.STEP".
type Step string

// The steps, in the order in which they are done: what is dangerous behind what makes it
// less so, and as few changes of the nest as there can be.
const (
	SelfTest    Step = "self-test"       // check resistors, ends of the scale, inputs, noise
	Guard       Step = "guard"           // an open guard is seen, and nothing may move
	Emergency   Step = "emergency stop"  // likewise
	Leakage     Step = "leakage"         // every channel against all others, the nest empty
	Mains       Step = "mains"           // what mains move the lines, the nest empty
	Capacitance Step = "capacitance"     // of each line, the nest empty
	Zero        Step = "zero"            // with the shorting plug
	Verify      Step = "verification"    // with the reference box
	Pad         Step = "pad capacitance" // of each line with a keypad in the nest
	Travel      Step = "travel"          // of each actuator, on the keys of a good keypad
)

// Nest is what has to lie in the nest; its words are the text "commission.nest.NEST".
type Nest string

// What can lie there.
const (
	Whatever Nest = ""
	Empty    Nest = "empty"
	Plug     Nest = "plug"
	Box      Nest = "box"
	Keypad   Nest = "keypad"
)

// Steps are all of them, in their order.
func Steps() []Step {
	return []Step{SelfTest, Guard, Emergency, Leakage, Mains, Capacitance, Zero, Verify, Pad, Travel}
}

// Nest is what a step wants there.
func (s Step) Nest() Nest {
	switch s {
	case SelfTest, Leakage, Mains, Capacitance:
		return Empty
	case Zero:
		return Plug
	case Verify:
		return Box
	case Pad, Travel:
		return Keypad
	}
	return Whatever
}

// Wants are the steps that must have been passed before a step: what moves wants all that
// stops motion, and what measures a jig that reads itself right.
func (s Step) Wants() []Step {
	switch s {
	case SelfTest, Guard, Emergency:
		return nil
	case Verify:
		return []Step{SelfTest, Zero}
	case Travel:
		return []Step{SelfTest, Guard, Emergency}
	}
	return []Step{SelfTest}
}

// Moves reports whether actuators press in a step.
func (s Step) Moves() bool { return s == Travel }

// Applies reports whether a jig has what a step looks at.
func (s Step) Applies(jig fixture.Capabilities) bool {
	switch s {
	case Guard:
		return jig.Interlock
	case Emergency:
		return jig.Emergency
	case Travel:
		return jig.Mechanical && jig.Actuators > 0
	case Zero, Verify:
		return jig.Channels > 2
	}
	return true
}

// Outcome is how a step ended.
type Outcome string

// The outcomes. What was not done says nothing of the jig.
const (
	Pass    Outcome = "pass"
	Fail    Outcome = "fail"
	NotDone Outcome = "not done"
)

// Figure is one value against its limit.
type Figure struct {
	Of    string  `json:"of"`    // code; its words are the text "commission.figure.OF"
	At    int     `json:"at"`    // number of the channel, range or actuator, from 1; 0: of the jig
	Value float64 `json:"value"` // as the next in Unit
	Limit float64 `json:"limit"` // of the value's amount; of an At-least figure the least
	Unit  string  `json:"unit"`  // "ohm", "A", "V", "F", "s", "ppm", or nothing for a count
	Least bool    `json:"least"` // the limit is the least
	Good  bool    `json:"good"`
}

// most is a figure with a limit of its amount.
func most(of string, at int, value, limit float64, unit string) Figure {
	return Figure{Of: of, At: at, Value: value, Limit: limit, Unit: unit, Good: max(value, -value) <= limit}
}

// least is a figure with a least value.
func least(of string, at int, value, limit float64, unit string) Figure {
	return Figure{Of: of, At: at, Value: value, Limit: limit, Unit: unit, Least: true, Good: value >= limit}
}

// Result is how a step ended, with the figures it rests on.
type Result struct {
	Step    Step
	Outcome Outcome
	Why     sequence.Said // why it was not done, or failed without a figure; its words are the text "commission.why.CODE"
	Figures []Figure
}

// Judged is what figures come to: no figure proves nothing.
func Judged(step Step, figures []Figure) Result {
	r := Result{Step: step, Outcome: Pass, Figures: figures}
	switch {
	case len(figures) == 0:
		r.Outcome, r.Why = NotDone, sequence.Fact("nothing read")
	case slices.ContainsFunc(figures, func(f Figure) bool { return !f.Good }):
		r.Outcome = Fail
	}
	return r
}

// Skipped is a step that was not done, and why.
func Skipped(step Step, code sequence.Code, args ...string) Result {
	return Result{Step: step, Outcome: NotDone, Why: sequence.Fact(code, args...)}
}

// Bad are the figures beyond their limits.
func (r Result) Bad() []Figure {
	return slices.DeleteFunc(slices.Clone(r.Figures), func(f Figure) bool { return f.Good })
}

// Worst is the figure nearest to its limit, or farthest beyond; none where there are none.
func (r Result) Worst() (worst Figure, is bool) {
	for i, f := range r.Figures {
		if i == 0 || f.used() > worst.used() {
			worst, is = f, true
		}
	}
	return worst, is
}

// used is the part of its limit that a figure uses up.
func (f Figure) used() float64 {
	if f.Least {
		return f.Limit / max(f.Value, 1e-300)
	}
	return max(f.Value, -f.Value) / max(f.Limit, 1e-300)
}

// Progress is how far a commissioning has come: the last result of each step.
type Progress map[Step]Outcome

// Missing are the steps that a jig has still to pass, in their order.
func (s Progress) Missing(jig fixture.Capabilities) (steps []Step) {
	for _, step := range Steps() {
		if step.Applies(jig) && s[step] != Pass {
			steps = append(steps, step)
		}
	}
	return steps
}

// Lacks are the steps that must have been passed before a step and were not.
func (s Progress) Lacks(step Step, jig fixture.Capabilities) (steps []Step) {
	for _, before := range step.Wants() {
		if before.Applies(jig) && s[before] != Pass {
			steps = append(steps, before)
		}
	}
	return steps
}
