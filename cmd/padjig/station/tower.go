package station

import (
	"context"
	"errors"
	"time"

	"padjig/fixture"
	"padjig/fixture/wire"
	"padjig/sequence"
)

// signal is what a signal tower tells from afar.
type signal int

const (
	signalWaiting   signal = iota // for a unit
	signalWorking                 // hands off
	signalPassed                  // it is in the records
	signalFailed                  // likewise
	signalAct                     // somebody has to do something before it goes on
	signalAbnormal                // units are not tested until somebody has seen to it
	signalEmergency               // the emergency stop is pressed
)

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
	signalWaiting:   {Tower: wire.Tower{Lit: wire.White}},
	signalWorking:   {Tower: wire.Tower{Lit: wire.White, Blinking: wire.White, Half: slow}},
	signalPassed:    {Tower: wire.Tower{Lit: wire.Green | wire.White}},
	signalFailed:    {Tower: wire.Tower{Lit: wire.Amber, Blinking: wire.Amber, Half: fast}, calls: true},
	signalAct:       {Tower: wire.Tower{Lit: wire.Blue | wire.White, Blinking: wire.Blue, Half: slow}},
	signalAbnormal:  {Tower: wire.Tower{Lit: wire.Amber | wire.Blue, Blinking: wire.Amber | wire.Blue, Half: slow}, calls: true},
	signalEmergency: {Tower: wire.Tower{Lit: wire.Red | wire.Blue, Blinking: wire.Red | wire.Blue, Half: fast}},
}

// signal says how the lane stands to somebody who sees its tower alone.
func (s State) signal() signal {
	switch s.Phase {
	case Running, Storing, Exclusive, Changing:
		return signalWorking
	case Lid, Locked:
		return signalAct
	case Refused:
		switch s.Refusal.Code {
		case EmergencyStop:
			return signalEmergency
		case LineStopped, NoRecords, RecordsMoved, NoRoom:
			return signalAbnormal
		}
		return signalAct
	case Ended:
		return s.Verdict.signal()
	}
	switch {
	case s.Blocked() != nil:
		return signalAbnormal
	case len(s.Owed) > 0:
		return signalAct
	}
	return signalWaiting
}

// signal of a stored run: good is what passed, or a reference unit that showed what it must.
func (d Done) signal() signal {
	switch {
	case errors.Is(d.Cause, fixture.ErrEmergency):
		return signalEmergency
	case d.Reference != nil && d.Reference.Good():
		return signalPassed
	case d.Reference != nil:
		return signalAbnormal
	case d.Purpose != sequence.Production && d.Outcome != sequence.Aborted && d.Outcome != sequence.Reseat:
		return signalWaiting // a stage is good or not, and has not passed
	}
	switch d.Outcome {
	case sequence.Pass:
		return signalPassed
	case sequence.Fail:
		return signalFailed
	case sequence.Reseat, sequence.HarnessGood:
		return signalAct
	}
	return signalAbnormal
}

// calling is how long the buzzer calls, goodbye how long a jig has to go dark in.
const (
	calling = time.Second
	goodbye = 200 * time.Millisecond
)

// light has the jig's tower show how the lane stands, until ctx ends. It is beside the test:
// nothing waits for it, and what a jig says to it changes nothing.
func (l *loop) light(ctx context.Context, jig *fixture.Jig) {
	changes, stop := l.shown.notifier.Subscribe()
	defer stop()
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
		if next := lights[l.shown.now().signal()]; next != shows {
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
