package runner

import (
	"fmt"
	"slices"
	"strings"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/judge"
	"padjig/sequence/nets"
	"padjig/sequence/product"
	"padjig/sequence/prove"
)

// Plan is what will be done to a unit of one product on one kind of jig.
type Plan struct {
	Product   *product.Product
	Jig       fixture.Capabilities
	Actuation sequence.Actuation
	Purpose   sequence.Purpose
	Steps     []sequence.Step
	Shows     prove.Subjects // what it will prove of a good unit
	Required  prove.Subjects // what it has to prove to end with nothing found
	Memory    *Memory        // of the jig's self-tests before; nil: nothing is known of them

	called    prove.Subjects // by the product's construction
	set       *judge.Setting
	exercise  sequence.Exercising // of an exercise
	sentences sequence.Sentences  // of the record
}

// Steps, as the record names them.
const (
	stepSelfTest    = "self-test"
	stepSeating     = "seating"
	stepRest        = "rest"
	stepKeys        = "keys"
	stepJoins       = "joins"
	stepByHand      = "keys by hand"
	stepRectangles  = "rectangles"
	stepFirstPress  = "first press"
	stepFirstByHand = "first press by hand"
	stepPresses     = "presses"
	stepHeld        = "held closed"
	stepTail        = "tail moved"
)

// Problems are the reasons why a product cannot be tested on a jig, all of them.
type Problems []string

// Error joins the problems, one a line.
func (p Problems) Error() string { return strings.Join(p, "\n") }

// NewPlan plans a product on a jig. The error is Problems when the jig cannot
// do it.
func NewPlan(p *product.Product, jig fixture.Capabilities, how sequence.Actuation) (*Plan, error) {
	plan, err := newPlan(p, jig, how)
	if err != nil {
		return nil, err
	}
	plan.beforeKeys()
	switch how {
	case sequence.Mechanical:
		plan.add(stepKeys, "each key closes when pressed, within its limits for resistance and bounce, closes nothing else, and opens when released",
			everyKey(p), ofKeys...)
	case sequence.Electrical:
		plan.add(stepJoins, "jig and harness read the known resistor at each key's place; says nothing about the keys themselves", everyKey(p))
		plan.proves(prove.Harness, everyKey(p))
	case sequence.Hand:
		plan.add(stepByHand, "each key closes when a person presses it, within its limits, closes nothing else, and opens when let go", everyKey(p), ofKeys...)
		plan.onlySeenByHand()
	}
	if p.Test.Rectangles && how == sequence.Mechanical && jig.Together >= 3 {
		plan.add(stepRectangles, "three corners of a rectangle held do not close the fourth: every diode blocks", everyKey(p),
			prove.Rectangles)
	}
	plan.afterKeys()
	return plan.For(sequence.Production), plan.fits()
}

// ofKeys is what one press of a key proves, as far as its construction calls for it.
var ofKeys = []prove.Proof{prove.Closes, prove.Contact, prove.DiodeDrop, prove.DiodeBlocks, prove.Alone, prove.BounceClosing,
	prove.BounceOpening, prove.Opens}

// onlySeenByHand takes away what cannot be seen while a person presses: how a key closes
// one of whose lines others are fed from and whose other line is fed too.
func (plan *Plan) onlySeenByHand() {
	sides := routines{set: plan.set}.sides()
	plan.Shows[prove.BounceClosing] = slices.DeleteFunc(plan.Shows[prove.BounceClosing], func(k int) bool {
		_, to := plan.set.EndLines(k)
		return slices.Contains(sides.Feed, to)
	})
}

// For is the same plan for another purpose: a return test and a reading of a gauge
// study do what a test of production does.
func (plan *Plan) For(purpose sequence.Purpose) *Plan {
	other := *plan
	other.Purpose = purpose
	other.Required = judge.RequiredFor(purpose, plan.Product, plan.Shows)
	if plan.Actuation == sequence.Electrical {
		other.Required = plan.Shows // to be a good harness; it passes nothing
	}
	return &other
}

// Lacks is what the product requires and the plan cannot prove, whatever the unit is.
func (plan *Plan) Lacks() prove.Subjects { return judge.Required(plan.Product).Without(plan.Shows) }

// NotRequired is what the product's construction calls for and a pass does without.
func (plan *Plan) NotRequired() prove.Subjects {
	return plan.called.Without(judge.Required(plan.Product))
}

// NewStage plans a stage of a returns case, an exercise after what e says.
func NewStage(p *product.Product, jig fixture.Capabilities, how sequence.Actuation, stage sequence.Purpose, e sequence.Exercising) (*Plan, error) {
	switch {
	case how == sequence.Electrical:
		return nil, Problems{"a stage of a returns case needs its keys pressed: an electrical press does not touch them"}
	case stage == sequence.FirstPress:
		return NewFirstPress(p, jig, how)
	case stage == sequence.Exercise:
		return NewExercise(p, jig, e)
	}
	return NewPlan(p, jig, how)
}

// NewFirstPress plans the first look at a unit that came back. A film, a hair or a
// thread of silver that made the trouble is gone after a few presses or a few
// milliampere, and then the unit "came back good": a dendrite without current limiting
// can burn itself off and the part looks good again (ASTM F1996, seen in abstract). So
// everything is read at rest, then each key is pressed once, all with the smallest
// current that still reads, and nothing is done twice. The error is Problems when the
// jig cannot do it.
func NewFirstPress(p *product.Product, jig fixture.Capabilities, how sequence.Actuation) (*Plan, error) {
	// A guard is a source that no reference resistor limits.
	jig.Guard = false
	plan, err := newPlan(p, jig, how)
	if err != nil {
		return nil, err
	}
	if how == sequence.Electrical {
		return nil, Problems{"a first press needs a press: an electrical press does not touch the keys"}
	}
	plan.set = plan.set.Gently(samplesValue)
	plan.beforeKeys()
	name := stepFirstPress
	if how == sequence.Hand {
		name = stepFirstByHand
	}
	plan.add(name, "one press a key, at the smallest current that still reads; nothing is repeated", everyKey(p), ofKeys...)
	if how == sequence.Hand { // a press that falls between two watches is not repeated here
		delete(plan.Shows, prove.BounceClosing)
		delete(plan.Shows, prove.BounceOpening)
	}
	for k := range p.Keys {
		if plan.set.ThroughDiode(k) { // whether it closes is all that is read of it
			plan.Shows = plan.Shows.Without(prove.Subjects{prove.Contact: {k}, prove.DiodeDrop: {k}})
		}
	}
	plan.afterKeys()
	return plan.For(sequence.FirstPress), plan.fits()
}

// NewExercise plans an exercise. The error is Problems when the jig cannot do it.
func NewExercise(p *product.Product, jig fixture.Capabilities, e sequence.Exercising) (*Plan, error) {
	if !jig.Mechanical {
		return nil, Problems{fmt.Sprintf("jig %s has no actuators: nobody presses evenly hundreds of times by hand", jig.Serial)}
	}
	if long := max(e.Hold, e.Flex); long > 0 && long+heldBesides > jig.Duty.Hold {
		return nil, Problems{fmt.Sprintf("jig %s holds an actuator for %v at the most: ask for %v or less", jig.Serial,
			jig.Duty.Hold, max(0, jig.Duty.Hold-heldBesides))}
	}
	plan, err := newPlan(p, jig, sequence.Mechanical)
	if err != nil {
		return nil, err
	}
	if e.Keys == nil {
		e.Keys = everyKey(p)
	}
	plan.exercise = e
	plan.beforeKeys()
	if e.Presses > 0 {
		plan.add(stepPresses, fmt.Sprintf("each key closes within its limit and opens again, %d times", e.Presses), e.Keys, prove.Closes)
	}
	if e.Hold > 0 {
		plan.add(stepHeld, fmt.Sprintf("each key stays closed while it is held for %v, watched every %v", e.Hold, jig.Tick), e.Keys, prove.Closes)
	}
	if e.Flex > 0 {
		plan.add(stepTail, fmt.Sprintf("keys that reach every line stay closed for %v while the tail is moved", e.Flex), e.Keys)
	}
	plan.afterKeys()
	return plan.For(sequence.Exercise), plan.fits()
}

// newPlan is a plan without steps yet.
func newPlan(p *product.Product, jig fixture.Capabilities, how sequence.Actuation) (*Plan, error) {
	set := judge.NewSetting(p, jig, how)
	if problems := problemsOf(set); len(problems) > 0 {
		return nil, problems
	}
	return &Plan{Product: p, Jig: jig, Actuation: how, Shows: prove.Subjects{}, called: judge.Called(p), set: set, sentences: sequence.Plain()}, nil
}

// DefaultActuation is mechanical where the jig has an actuator for each key,
// otherwise by hand.
func DefaultActuation(p *product.Product, jig fixture.Capabilities) sequence.Actuation {
	if jig.Mechanical && highestActuator(p) < jig.Actuators {
		return sequence.Mechanical
	}
	return sequence.Hand
}

func highestActuator(p *product.Product) int { return len(p.Pushes()) - 1 }

func problemsOf(set *judge.Setting) Problems {
	p, jig, how := set.Product, set.Jig, set.Actuation
	out := Problems(wrongReferences(p))
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if len(p.Tail) > jig.Channels {
		add("%s has %d tail pins, jig %s has %d channels: use a jig with more channels",
			p.Code, len(p.Tail), jig.Serial, jig.Channels)
	}
	if jig.Vref > p.Test.MaxVoltage {
		add("jig %s measures with %v, %s allows at most %v: use another jig, or raise test voltage in the product file",
			jig.Serial, jig.Vref, p.Code, p.Test.MaxVoltage)
	}
	if len(set.Ranges) == 0 {
		add("every range of jig %s drives more than the %v that %s allows", jig.Serial, p.Test.MaxCurrent, p.Code)
	}
	switch {
	case how == sequence.Mechanical && !jig.Mechanical:
		add("jig %s has no actuators that push keys: press by hand, or use another jig", jig.Serial)
	case how == sequence.Mechanical && highestActuator(p) >= jig.Actuators:
		add("%s needs actuator %d, jig %s has %d", p.Code, highestActuator(p)+1, jig.Serial, jig.Actuators)
	case how == sequence.Electrical && !jig.Electrical:
		add("jig %s cannot join lines: it has no electrical press", jig.Serial)
	}
	if set.Diodes() && len(set.Ranges) < 3 {
		add("%s has series diodes: three test currents are needed, jig %s has %d ranges within %v",
			p.Code, jig.Serial, len(set.Ranges), p.Test.MaxCurrent)
	}
	if at := p.Test.Contact; at.Asked() && how != sequence.Electrical && len(set.Ranges) < 2 {
		add("%s wants contacts read at two currents: jig %s has %d range within %v; use a jig with more, or raise test "+
			"current in the product file", p.Code, jig.Serial, len(set.Ranges), p.Test.MaxCurrent)
	}
	return out
}

// wrongReferences gives the mistakes in a product's reference units that only
// the list of findings can show.
func wrongReferences(p *product.Product) (mistakes []string) {
	if p.References == nil {
		return nil
	}
	all := sequence.Findings()
	for _, bad := range p.References.Bad {
		if !slices.Contains(all, bad.What) {
			mistakes = append(mistakes, fmt.Sprintf("reference unit %s must be failed for %q, which is never reported; write one of %s",
				bad.Serial, bad.What, strings.Join(all, ", ")))
		}
	}
	return mistakes
}

// beforeKeys are the steps that come before any key is pressed.
func (plan *Plan) beforeKeys() {
	plan.add(stepSelfTest, "the jig reads its own check resistors on every range it will use", nil)
	if len(plan.Jig.Checks) > 0 {
		plan.proves(prove.SelfTest, []int{0})
	}
	if plan.Jig.Loop {
		plan.add(stepSeating, fmt.Sprintf("each of %d tail pins reaches its jig channel", len(plan.Product.Tail)), nil)
		plan.proves(prove.Seating, plan.called[prove.Seating])
	}
	groups := fmt.Sprintf("%d group readings", len(judge.Splits(nets.New(len(plan.Product.Lines)).Of(plan.set.Lines))))
	if plan.set.Diodes() {
		groups += " in each polarity"
	}
	plan.add(stepRest, fmt.Sprintf("nothing pressed: no two of %d lines are connected, by %s", len(plan.set.Lines), groups), nil)
	plan.proves(prove.Insulation, []int{prove.Before})
}

func (plan *Plan) afterKeys() {
	plan.add(judge.RestAgain, "nothing pressed at the end: no key stayed closed", nil)
	plan.proves(prove.Insulation, []int{prove.After})
}

// add adds a step that does something to keys, and proves of each of them what its
// construction calls for.
func (plan *Plan) add(name, does string, keys []int, proofs ...prove.Proof) {
	plan.Steps = append(plan.Steps, sequence.Step{Name: name, Does: does, Keys: keys})
	for _, p := range proofs {
		plan.proves(p, slices.DeleteFunc(slices.Clone(keys), func(k int) bool { return !slices.Contains(plan.called[p], k) }))
	}
}

// proves says that the step added last proves something.
func (plan *Plan) proves(p prove.Proof, of []int) {
	step := &plan.Steps[len(plan.Steps)-1]
	for _, one := range of {
		plan.Shows.Add(p, one)
	}
	if len(of) > 0 {
		step.Proves = append(step.Proves, p)
	}
}

// everyKey lists the keys by number.
func everyKey(p *product.Product) []int {
	every := make([]int, len(p.Keys))
	for i := range every {
		every[i] = i
	}
	return every
}

// fits checks that every exchange keeps within the protocol's frames.
func (plan *Plan) fits() error {
	if plan.Actuation == sequence.Hand {
		return nil
	}
	for k, key := range plan.Product.Keys {
		if err := (routines{set: plan.set}).whole(k, nets.New(len(plan.Product.Lines))).r.Fits(); err != nil {
			return fmt.Errorf("plan key %s of %s: %w", key.Label, plan.Product.Code, err)
		}
	}
	return nil
}

// JigName is the jig that the plan was made for, as the record names it.
func (plan *Plan) JigName() sequence.JigName { return sequence.NameOf(plan.Jig) }

// Current is the largest that the plan sends through a key: into a short
// circuit, and so through a contact of any resistance less.
func (plan *Plan) Current() quantity.Ampere { return plan.Jig.Current(plan.set.Low) }
