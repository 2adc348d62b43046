package sequence

import (
	"fmt"
	"strings"
	"time"

	"padjig/fixture"
)

// readyToMove is how long a person has to get hold of the tail.
const readyToMove = 3 * time.Second

// flex holds a few keys one after the other, so that together they reach every
// line, and watches each while somebody moves the tail: a crack in a track that
// still touches opens then. Nothing is pressed while the tail is in hand but
// the key that is named.
func (e *exercised) flex(step Step) error {
	cover := e.cover()
	e.say(Progress{Step: step, Total: len(cover), Prompt: fmt.Sprintf(
		"in %v: move the tail gently, as in use, without a sharp bend, until told to stop; hands off the keys", readyToMove)})
	wait := fixture.NewRoutine(e.plan.Jig)
	wait.Wait(readyToMove)
	if _, err := e.one(wait); err != nil {
		return err
	}
	e.begin(len(cover), 0)
	for i, k := range cover {
		key := e.plan.Product.Keys[k]
		names := e.names(key.A, key.B)
		e.say(Progress{Step: step, Done: i, Total: len(cover), Prompt: fmt.Sprintf(
			"move the tail for %v: %s is held, %s are watched", e.plan.exercise.Flex, e.place(k), strings.Join(names[:], " and "))})
		if err := e.holdKey(k, e.plan.exercise.Flex, &e.of(k).Flexed); err != nil {
			return err
		}
		e.judgeHold(k, e.of(k).Flexed, said(TailMoved))
		e.pace.done++
		e.sayDone(step, i+1, len(cover), k)
	}
	e.say(Progress{Step: step, Done: len(cover), Total: len(cover), Prompt: "stop: let go of the tail"})
	return nil
}

// cover is a small set of keys that together reach every line that any key
// reaches: each time the key that reaches most lines not reached yet.
func (e *exercised) cover() []int {
	var cover []int
	reached := map[int]bool{}
	for {
		best, most := -1, 0
		for k, key := range e.plan.Product.Keys {
			count := 0
			for _, l := range []int{key.A, key.B} {
				if !reached[l] {
					count++
				}
			}
			if count > most && !e.hidden(k) {
				best, most = k, count
			}
		}
		if best < 0 {
			return cover
		}
		cover = append(cover, best)
		reached[e.plan.Product.Keys[best].A], reached[e.plan.Product.Keys[best].B] = true, true
	}
}
