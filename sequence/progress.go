package sequence

import (
	"context"
	"time"

	"padjig/fixture"
	"padjig/sequence/prove"
)

// Jig is what a run needs of a jig; *fixture.Jig is one.
type Jig interface {
	// Perform has the routines performed in order, queued ahead, and calls
	// each with the results in the same order; an error of each ends it, and
	// routines queued behind may then still run until Inert is called.
	Perform(ctx context.Context, routines []*fixture.Routine, each func(i int, d fixture.Done) error) error
	// Inert makes the jig let go of everything and forget what is queued. It
	// may be called at any time, and the jig can be used again afterwards.
	Inert(ctx context.Context) error
}

// inertWithin is how long making the jig inert may take when a run ends; a jig
// that does not answer is inert by itself after a second of silence.
const inertWithin = 2 * time.Second

// MakeInert makes a jig let go of everything, also when ctx has ended.
func MakeInert(ctx context.Context, jig Jig) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), inertWithin)
	defer cancel()
	return jig.Inert(ctx)
}

// NameOf is a jig as the record names it.
func NameOf(jig fixture.Capabilities) JigName {
	return JigName{jig.Serial, jig.Model, jig.Firmware, jig.Adapter}
}

// Unit is the unit to be tested, and on whose behalf.
type Unit struct {
	Serial   string
	Operator string
	Case     string    // id of the returns case, empty for production
	Attempt  int       // 1 for the first
	Started  time.Time // wall clock, for the record only
}

// Step is one step of a plan.
type Step struct {
	Name   string
	Does   string        // in words
	Proves []prove.Proof // when it is done and what it reads is good
	Keys   []int         // keys it presses
}

// Progress is one thing an observer may show.
type Progress struct {
	Step   Step
	Done   int           // keys done of this step
	Total  int           // keys of this step
	Key    *KeyResult    // just finished, nil otherwise
	Press  int           // of many presses of one key: how many are done
	Left   time.Duration // about how long an exercise still takes; 0 where nothing is known of it yet
	Prompt string        // something a person should do or know
	Ask    Ask           // the same, for those who say it otherwise
}

// Ask is what a person who presses the keys is asked, or told.
type Ask struct {
	Code AskCode
	Keys []string // labels of the keys it is about, or the names of lines
}

// AskCode names the sentence of an Ask.
type AskCode string

// The codes.
const (
	AskEachKey  AskCode = "each key"  // press each key once, in any order
	AskLetGo    AskCode = "let go"    // this key was read
	AskAgain    AskCode = "again"     // this key was let go too soon
	AskUnseen   AskCode = "unseen"    // how this key closed or opened was not seen
	AskOne      AskCode = "one"       // these keys were pressed together
	AskEnough   AskCode = "enough"    // this key was pressed already
	AskNowhere  AskCode = "nowhere"   // these lines closed, where no key is
	AskNext     AskCode = "next"      // nothing is held: press the next key, this one or any that is left
	AskHandsOff AskCode = "hands off" // every key was pressed: hands off

	AskFlexSoon AskCode = "flex soon" // get hold of the tail, and move it until told to stop
	AskFlex     AskCode = "flex"      // move the tail: this key is held
	AskFlexOver AskCode = "flex over" // let go of the tail
)

// Exercising is what is done to a unit in which the production test found
// nothing, or not enough: many presses, each key held, the tail moved.
type Exercising struct {
	Keys        []int         // by number; nil for every key
	Presses     int           // of each key
	StopAtFirst bool          // end at the first press that is not good, and leave the unit as it then is
	Hold        time.Duration // each key is held and watched for so long; 0: not
	Flex        time.Duration // the same while somebody moves the tail; 0: not
}

// Live is one reading of a key that is being watched.
type Live struct {
	At     time.Duration // since the key was to be held
	Ohm    fixture.Resistance
	Closed bool
	Rests  bool // the actuator rests: the key was let go of, and nothing is read
}

// Interrupt says of a run that was aborted that somebody did it, whatever it was
// that stopped at that.
func (run *Run) Interrupt() {
	run.Why = Fact(Interrupted)
	run.Reason = Plain().Of(run.Why)
}
