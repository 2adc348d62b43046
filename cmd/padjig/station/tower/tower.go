// Package tower is what a signal tower shows of a lane: which lamps are which signal.
package tower

import (
	"context"
	"time"

	"padjig/fixture/wire"
	"padjig/sequence"
)

// Signal is what a signal tower tells from afar.
type Signal int

const (
	Waiting   Signal = iota // for a unit
	Working                 // hands off
	Passed                  // it is in the records
	Failed                  // likewise
	Act                     // somebody has to do something before it goes on
	Abnormal                // units are not tested until somebody has seen to it
	Emergency               // the emergency stop is pressed
)

// OfReference is what a run over a reference unit shows: good is that it showed what it must.
func OfReference(good bool) Signal {
	if good {
		return Passed
	}
	return Abnormal
}

// OfRun is what a stored run shows, one that an emergency stop ended or another.
func OfRun(r sequence.Run, emergency bool) Signal {
	switch {
	case emergency:
		return Emergency
	case r.Purpose != sequence.Production && r.Outcome != sequence.Aborted && r.Outcome != sequence.Reseat:
		return Waiting // a stage is good or not, and has not passed
	}
	switch r.Outcome {
	case sequence.Pass:
		return Passed
	case sequence.Fail:
		return Failed
	case sequence.Reseat, sequence.HarnessGood:
		return Act
	}
	return Abnormal
}

// light is what the tower shows, and whether its buzzer calls somebody.
type light struct {
	wire.Tower
	calls bool
}

// Slow and fast blinking, in steps of 10 ms.
const (
	slow = 50
	fast = 20
)

// lights is the one place that says which lamp is which signal. The meaning of the colours
// is that of the table of indicator lights in IEC 60204-1 (from memory): red is an emergency,
// yellow abnormal, blue asks for an action, green is normal, white is none of these. No two
// have as many lamps that are steady, and as many that blink as fast: they can be told
// without their colours too.
var lights = [...]light{
	Waiting:   {Tower: wire.Tower{Lit: wire.White}},
	Working:   {Tower: wire.Tower{Lit: wire.White, Blinking: wire.White, Half: slow}},
	Passed:    {Tower: wire.Tower{Lit: wire.Green | wire.White}},
	Failed:    {Tower: wire.Tower{Lit: wire.Amber, Blinking: wire.Amber, Half: fast}, calls: true},
	Act:       {Tower: wire.Tower{Lit: wire.Blue | wire.White, Blinking: wire.Blue, Half: slow}},
	Abnormal:  {Tower: wire.Tower{Lit: wire.Amber | wire.Blue, Blinking: wire.Amber | wire.Blue, Half: slow}, calls: true},
	Emergency: {Tower: wire.Tower{Lit: wire.Red | wire.Blue, Blinking: wire.Red | wire.Blue, Half: fast}},
}

// Shows is what a tower shows for a signal, without its buzzer.
func Shows(s Signal) wire.Tower { return lights[s].Tower }

// How long the buzzer calls, and how long a jig has to go dark in.
const (
	calling = time.Second
	goodbye = 200 * time.Millisecond
)

// Lit is what has a tower: a jig.
type Lit interface {
	Light(context.Context, wire.Tower) error
	Gone() <-chan struct{}
}

// Follow has a jig's tower show what stands, until ctx ends. It is beside the test: nothing
// waits for it, and what a jig says to it changes nothing.
func Follow(ctx context.Context, jig Lit, changes <-chan struct{}, stands func() Signal) {
	silence := time.NewTimer(0)
	<-silence.C
	defer silence.Stop()
	defer func() { // a jig that hears nothing any more goes dark by itself, a second later
		end, cancel := context.WithTimeout(context.WithoutCancel(ctx), goodbye)
		defer cancel()
		_ = jig.Light(end, wire.Tower{})
	}()
	shows := light{}
	for ctx.Err() == nil {
		if next := lights[stands()]; next != shows {
			shows = next
			if next.calls {
				next.Lit |= wire.Buzzer
				silence.Reset(calling)
			}
			_ = jig.Light(ctx, next.Tower)
		}
		select {
		case <-ctx.Done():
		case <-jig.Gone():
			return
		case <-silence.C:
			_ = jig.Light(ctx, shows.Tower)
		case <-changes:
		}
	}
}
