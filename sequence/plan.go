package sequence

import (
	"fmt"
	"strings"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

// Plan is what will be done to a unit of one product on one kind of jig.
type Plan struct {
	Product   *product.Product
	Jig       fixture.Capabilities
	Actuation Actuation
	Purpose   Purpose
	Steps     []Step
	Unproved  []string // what this jig cannot show, in words

	ranges         []int        // the only ones used; nil for every one that the product stands
	low, mid, high int          // ranges: closed contacts, contact watching and closures, insulation
	loop           int          // range for the pads under the probes: no current through the unit
	exercise       Exercising   // of an exercise
	closure        quantity.Ohm // anything closer while a key is held is a second contact
	lines          []int        // lines with a tail pin, by number
}

// Step is one step of a plan.
type Step struct {
	Name   string
	Proves string
	Keys   []int // keys it presses

	alone bool // nothing behind it is begun before it is judged

	// One of the two: exchanges that can be queued in a row with those of
	// other steps, or work that waits for a person.
	exchanges func(*runner, Step) []exchange
	work      func(*runner, Step) error
}

// Problems are the reasons why a product cannot be tested on a jig, all of them.
type Problems []string

// Error joins the problems, one a line.
func (p Problems) Error() string { return strings.Join(p, "\n") }

// NewPlan plans a product on a jig. The error is Problems when the jig cannot
// do it.
func NewPlan(p *product.Product, jig fixture.Capabilities, how Actuation) (*Plan, error) {
	plan, err := newPlan(p, jig, how)
	if err != nil {
		return nil, err
	}
	plan.chooseSteps()
	return plan, plan.fits()
}

// newPlan is a plan without steps yet.
func newPlan(p *product.Product, jig fixture.Capabilities, how Actuation) (*Plan, error) {
	plan := &Plan{Product: p, Jig: jig, Actuation: how}
	for i, l := range p.Lines {
		if l.Pin > 0 {
			plan.lines = append(plan.lines, i)
		}
	}
	if problems := plan.problems(); len(problems) > 0 {
		return nil, problems
	}
	plan.chooseRanges()
	return plan, nil
}

// DefaultActuation is mechanical where the jig has an actuator for each key,
// otherwise by hand.
func DefaultActuation(p *product.Product, jig fixture.Capabilities) Actuation {
	if jig.Mechanical && highestActuator(p) < jig.Actuators {
		return Mechanical
	}
	return Hand
}

func highestActuator(p *product.Product) int {
	top := -1
	for _, k := range p.Keys {
		top = max(top, k.Actuator)
	}
	return top
}

func (plan *Plan) problems() Problems {
	out := Problems(CheckReferences(plan.Product))
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	p, jig := plan.Product, plan.Jig
	if len(p.Tail) > jig.Channels {
		add("%s has %d tail pins, jig %s has %d channels: use a jig with more channels",
			p.Code, len(p.Tail), jig.Serial, jig.Channels)
	}
	if jig.Vref > p.Test.MaxVoltage {
		add("jig %s measures with %v, %s allows at most %v: use another jig, or raise test voltage in the product file",
			jig.Serial, jig.Vref, p.Code, p.Test.MaxVoltage)
	}
	if len(plan.allowedRanges()) == 0 {
		add("every range of jig %s drives more than the %v that %s allows", jig.Serial, p.Test.MaxCurrent, p.Code)
	}
	switch {
	case plan.Actuation == Mechanical && !jig.Mechanical:
		add("jig %s has no actuators that push keys: press by hand, or use another jig", jig.Serial)
	case plan.Actuation == Mechanical && highestActuator(p) >= jig.Actuators:
		add("%s needs actuator %d, jig %s has %d", p.Code, highestActuator(p)+1, jig.Serial, jig.Actuators)
	case plan.Actuation == Electrical && !jig.Electrical:
		add("jig %s cannot join lines: it has no electrical press", jig.Serial)
	}
	if plan.diodes() && len(plan.allowedRanges()) < 3 {
		add("%s has series diodes: three test currents are needed, jig %s has %d ranges within %v",
			p.Code, jig.Serial, len(plan.allowedRanges()), p.Test.MaxCurrent)
	}
	return out
}

// allowedRanges are the ranges whose short-circuit current the product stands,
// less those that the plan leaves alone.
func (plan *Plan) allowedRanges() []int {
	if plan.ranges != nil {
		return plan.ranges
	}
	var out []int
	for i := range plan.Jig.Ranges {
		if plan.Jig.Current(i) <= plan.Product.Test.MaxCurrent {
			out = append(out, i)
		}
	}
	return out
}

// scanRange is the smallest reference with which contacts are watched: with it
// the current stays below that of a scanned keypad, and 100 kohm still reads
// well within a percent.
const scanRange quantity.Ohm = 1000

// leastClosure is the closest that two lines may come while a key is held
// without counting as a second contact. Scanners with pull-ups of 100 kohm
// still read 43 kohm as closed (VIL = 0.3 VDD).
const leastClosure quantity.Ohm = 100e3

func (plan *Plan) chooseRanges() {
	allowed := plan.allowedRanges()
	plan.low, plan.mid, plan.high = allowed[0], allowed[len(allowed)-1], allowed[len(allowed)-1]
	plan.loop = plan.low
	for _, r := range allowed {
		if plan.Jig.Ranges[r].Ohm >= scanRange {
			plan.mid = r
			break
		}
	}
	plan.closure = closureOf(plan.Product)
}

// closureOf is the resistance below which two lines of a product count as connected
// while a key is held.
func closureOf(p *product.Product) quantity.Ohm {
	closure := leastClosure
	if s := p.Scanner; s != nil && s.Supply > s.Low {
		// Twice the largest resistance the scanner still reads as closed:
		// R = pull-up * VIL / (VDD - VIL).
		closure = max(closure, 2*s.PullUp*quantity.Ohm(s.Low/(s.Supply-s.Low)))
	}
	for i := range p.Keys {
		closure = min(closure, p.Keys[i].Limits.RestMin)
	}
	return closure
}

func (plan *Plan) chooseSteps() {
	p := plan.Product
	every := plan.everyKey()
	plan.beforeKeys()
	switch plan.Actuation {
	case Mechanical:
		plan.add("keys", "each key closes when pressed, within its limits for resistance and bounce, closes nothing else, and opens when released",
			every, (*runner).keys)
	case Electrical:
		plan.add("joins", "jig and harness read the known resistor at each key's place; says nothing about the keys themselves",
			every, (*runner).keys)
		plan.Unproved = append(plan.Unproved, "contacts and bounce: an electrical press does not touch the key")
	case Hand:
		plan.Steps = append(plan.Steps, Step{
			Name:   "keys by hand",
			Proves: "each key closes when a person presses it, within its limits, closes nothing else, and opens when let go",
			Keys:   every, work: (*runner).hand,
		})
	}
	if plan.rectangles() {
		plan.add("rectangles", "three corners of a rectangle held do not close the fourth: every diode blocks", every, (*runner).rectangles)
	} else if p.Test.Rectangles {
		plan.Unproved = append(plan.Unproved, "rectangles: this jig cannot hold three keys at once")
	}
	plan.afterKeys()
}

// beforeKeys are the steps that come before any key is pressed.
func (plan *Plan) beforeKeys() {
	p := plan.Product
	plan.add("self-test", "the jig reads its own check resistors on every range it will use", nil, (*runner).selfTest)
	if plan.Jig.Loop {
		plan.add("seating", fmt.Sprintf("each of %d tail pins reaches its jig channel", len(p.Tail)), nil, (*runner).seating)
	} else {
		plan.Unproved = append(plan.Unproved, "seating: this jig has one probe a line, so a pin without contact looks like an open line")
	}
	plan.add("rest", fmt.Sprintf("nothing pressed: no two of %d lines are connected, by %s", len(plan.lines), plan.groupCount()),
		nil, (*runner).rest)
}

func (plan *Plan) afterKeys() {
	plan.add(restAgain, "nothing pressed at the end: no key stayed closed", nil, (*runner).rest)
}

// everyKey lists the keys by number.
func (plan *Plan) everyKey() []int {
	every := make([]int, len(plan.Product.Keys))
	for i := range every {
		every[i] = i
	}
	return every
}

func (plan *Plan) add(name, proves string, keys []int, exchanges func(*runner, Step) []exchange) {
	plan.Steps = append(plan.Steps, Step{Name: name, Proves: proves, Keys: keys, exchanges: exchanges})
}

func (plan *Plan) groupCount() string {
	n := len(splits(newNets(len(plan.Product.Lines)).of(plan.lines)))
	if plan.diodes() {
		return fmt.Sprintf("%d group readings in each polarity", n)
	}
	return fmt.Sprintf("%d group readings", n)
}

func (plan *Plan) rectangles() bool {
	return plan.Product.Test.Rectangles && plan.Actuation == Mechanical && plan.Jig.Together >= 3
}

// diodes reports whether any key has a series diode, so that currents must be
// tried both ways.
func (plan *Plan) diodes() bool {
	for _, k := range plan.Product.Keys {
		if k.Diode != product.NoDiode {
			return true
		}
	}
	return false
}

// fits checks that every exchange keeps within the protocol's frames.
func (plan *Plan) fits() error {
	if plan.Actuation == Hand {
		return nil
	}
	for k := range plan.Product.Keys {
		if err := plan.keyRoutine(k, newNets(len(plan.Product.Lines))).r.Fits(); err != nil {
			return fmt.Errorf("plan key %s of %s: %w", plan.Product.Keys[k].Label, plan.Product.Code, err)
		}
	}
	return nil
}

// channel is the jig channel under a line's tail pin.
func (plan *Plan) channel(line int) int { return plan.Product.Lines[line].Pin - 1 }

func (plan *Plan) channels(lines []int) []int {
	out := make([]int, len(lines))
	for i, l := range lines {
		out[i] = plan.channel(l)
	}
	return out
}

// except lists the lines of the plan that are not among those given.
func (plan *Plan) except(lines ...int) []int {
	var out []int
	for _, l := range plan.lines {
		if !contains(lines, l) {
			out = append(out, l)
		}
	}
	return out
}

func contains(list []int, x int) bool {
	for _, v := range list {
		if v == x {
			return true
		}
	}
	return false
}
