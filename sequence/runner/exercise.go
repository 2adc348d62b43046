package runner

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/judge"
)

// exercise presses keys many times, holds them, and has the tail moved.
type exercise struct {
	holding
	watch watcher
	sheet *judge.Sheet
	rest  *judge.Rest
	judge *judge.Presses
	do    sequence.Exercising
	over  bool // it has found what it was to stop at
	pace  pace
	owes  int           // key whose actuator has not rested yet
	owed  time.Duration // what it has not rested from
}

// heldBesides is what a key is down for besides the time in which it is watched.
const heldBesides = 500 * time.Millisecond

// rests has an actuator rest before it is down for so long, if it was down too much before.
func (e *exercise) rests(k int, down time.Duration) error {
	if e.owes != k {
		e.owes, e.owed = k, 0 // the others rested meanwhile
	}
	if rest := e.set.Jig.Duty.Rest(e.owed, down); rest > 0 {
		wait := e.routine()
		wait.Wait(rest)
		if _, err := e.line.one(wait); err != nil {
			return err
		}
		e.owed = e.set.Jig.Duty.Owes(e.owed, 0, rest)
	}
	e.owed = e.set.Jig.Duty.Owes(e.owed, down, 0)
	return nil
}

// errLeftOut is the error of a step that is left out and stays not done.
var errLeftOut = errors.New("left out")

// pace is how far a step is and how long it took so far.
type pace struct {
	began     time.Time
	done, all int           // presses, or keys that are held
	after     time.Duration // the steps behind this one
}

// begin starts the clock of a step.
func (e *exercise) begin(all int, after time.Duration) {
	e.pace = pace{began: time.Now(), all: all, after: after}
}

// left is how long the exercise still takes when the rest goes as what was done.
func (p pace) left() time.Duration {
	if p.done == 0 {
		return 0
	}
	return time.Duration(float64(time.Since(p.began))/float64(p.done)*float64(p.all-p.done)) + p.after
}

// flexing is how long the tail is moved for, with the time to get hold of it.
func (e *exercise) flexing() time.Duration {
	if e.do.Flex == 0 {
		return 0
	}
	return readyToMove + time.Duration(len(e.cover()))*e.do.Flex
}

// seen is how many keys of a step are not hidden.
func (e *exercise) seen(step sequence.Step) int {
	n := 0
	for _, k := range step.Keys {
		if !e.rest.Hidden(k) {
			n++
		}
	}
	return n
}

// sayDone hands on a key that is done, with how long the rest takes.
func (e *exercise) sayDone(step sequence.Step, done, total, k int) {
	e.watch.say(sequence.Progress{Step: step, Done: done, Total: total, Key: new(e.sheet.Keys[k]), Left: e.pace.left()})
}

// burst is how many presses are queued in a row; between two bursts a run can
// be stopped and says how far it is.
const burst = 25

// presses presses each key as often as asked, but for those that are hidden.
func (e *exercise) presses(step sequence.Step) error {
	seen := e.seen(step)
	e.begin(seen*e.do.Presses, time.Duration(seen)*e.do.Hold+e.flexing())
	for i, k := range step.Keys {
		if e.rest.Hidden(k) {
			continue
		}
		for done := 0; done < e.do.Presses && !e.over; {
			n := min(burst, e.do.Presses-done)
			if err := e.burst(k, n); err != nil {
				return err
			}
			done += n
			e.pace.done += n
			e.watch.say(sequence.Progress{Step: step, Done: i, Total: len(step.Keys), Press: done, Left: e.pace.left()})
		}
		e.sayDone(step, i+1, len(step.Keys), k)
		if e.over {
			return nil
		}
	}
	return nil
}

// errEnough ends a burst at a press that is not good.
var errEnough = errors.New("enough")

func (e *exercise) burst(k, n int) error {
	var queue []*keyRoutine
	for range n {
		queue = append(queue, e.once(k, e.rest.Known))
	}
	if err := e.rests(k, time.Duration(n)*queue[0].r.Down()); err != nil {
		return err
	}
	e.owed = e.set.Jig.Duty.Owes(e.owed, 0, time.Duration(n)*e.set.Jig.TravelUp)
	err := e.line.presses(queue, func(q *keyRoutine, d fixture.Done) error {
		if good := e.judge.Pressed(k, q.valueIn(d), q.edgesIn(d)); !good && e.do.StopAtFirst {
			return errEnough
		}
		return nil
	})
	if errors.Is(err, errEnough) {
		e.over = true
		err = e.line.riseAgain(e.routines)
	}
	return err
}

// hold holds each key closed and watches it.
func (e *exercise) hold(step sequence.Step) error {
	if e.over {
		return errLeftOut
	}
	e.begin(e.seen(step), e.flexing())
	for i, k := range step.Keys {
		if e.rest.Hidden(k) {
			continue
		}
		if err := e.rests(k, e.do.Hold+heldBesides); err != nil {
			return err
		}
		held := &e.judge.Of(k).Held
		if err := e.holding.hold(k, e.do.Hold, func() { e.judge.Missed(k) }, held); err != nil {
			return err
		}
		e.judge.Held(k, *held)
		e.pace.done++
		e.sayDone(step, i+1, len(step.Keys), k)
	}
	return nil
}

// readyToMove is how long a person has to get hold of the tail.
const readyToMove = 3 * time.Second

// flex holds a few keys one after the other, so that together they reach every
// line, and watches each while somebody moves the tail: a crack in a track that
// still touches opens then. Nothing is pressed while the tail is in hand but
// the key that is named.
func (e *exercise) flex(step sequence.Step) error {
	if e.over {
		return errLeftOut
	}
	cover := e.cover()
	e.watch.say(sequence.Progress{Step: step, Total: len(cover), Ask: sequence.Ask{Code: sequence.AskFlexSoon}, Prompt: fmt.Sprintf(
		"in %v: move the tail gently, as in use, without a sharp bend, until told to stop; hands off the keys", readyToMove)})
	wait := e.routine()
	wait.Wait(readyToMove)
	if _, err := e.line.one(wait); err != nil {
		return err
	}
	e.begin(len(cover), 0)
	for i, k := range cover {
		key := e.sheet.Keys[k]
		ask := sequence.Ask{Code: sequence.AskFlex, Keys: []string{key.Key}}
		e.watch.say(sequence.Progress{Step: step, Done: i, Total: len(cover), Ask: ask, Prompt: fmt.Sprintf(
			"move the tail for %v: key %s (%s) is held, %s are watched", e.do.Flex, key.Key,
			strings.Join(key.Lines[:], "-"), strings.Join(key.Lines[:], " and "))})
		if err := e.rests(k, e.do.Flex+heldBesides); err != nil {
			return err
		}
		flexed := &e.judge.Of(k).Flexed
		if err := e.holding.hold(k, e.do.Flex, func() { e.judge.Missed(k) }, flexed); err != nil {
			return err
		}
		e.judge.Held(k, *flexed, sequence.Fact(sequence.TailMoved))
		e.pace.done++
		e.sayDone(step, i+1, len(cover), k)
	}
	e.watch.say(sequence.Progress{Step: step, Done: len(cover), Total: len(cover), Ask: sequence.Ask{Code: sequence.AskFlexOver},
		Prompt: "stop: let go of the tail"})
	return nil
}

// cover is a small set of keys that together reach every line that any key
// reaches: each time the key that reaches most lines not reached yet.
func (e *exercise) cover() []int {
	var cover []int
	reached := map[int]bool{}
	for {
		best, most := -1, 0
		for k, key := range e.set.Product.Keys {
			count := 0
			for _, l := range []int{key.A, key.B} {
				if !reached[l] {
					count++
				}
			}
			if count > most && !e.rest.Hidden(k) {
				best, most = k, count
			}
		}
		if best < 0 {
			return cover
		}
		cover = append(cover, best)
		reached[e.set.Product.Keys[best].A], reached[e.set.Product.Keys[best].B] = true, true
	}
}
