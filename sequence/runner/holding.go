package runner

import (
	"math"
	"time"

	"padjig/fixture"
)

// holding holds keys closed and watches them.
type holding struct {
	routines
	line line
}

// glanceHeld is how long a held key is watched in one exchange.
const glanceHeld = 250 * time.Millisecond

// hold presses a key, watches it for a time, and lets it go. A press that does not close
// is missed and is tried once more; a key that stays open then has nothing to be watched
// for. One that closes is not told: it is not judged as others are.
func (h holding) hold(k int, long time.Duration, missed func(), into *fixture.Hold) error {
	closed, err := h.press(k, missed)
	if err == nil && !closed {
		if _, err = h.line.one(h.up(k)); err == nil {
			closed, err = h.press(k, missed)
		}
	}
	if err == nil && closed {
		var seen fixture.Hold
		seen, err = h.watchHeld(k, long)
		*into = fixture.Hold{Watched: seen.Watched, Openings: seen.Openings, Longest: seen.Longest, AtLeast: seen.AtLeast}
	}
	if err == nil {
		_, err = h.line.one(h.up(k))
	}
	return err
}

func (h holding) press(k int, missed func()) (closed bool, err error) {
	q := h.key(k)
	q.press()
	q.glance()
	done, err := h.line.one(q.r)
	if err != nil {
		return false, err
	}
	closed = !h.set.IsOpen(done.Resistance(q.mid))
	if !closed {
		missed()
	}
	return closed, nil
}

// watchHeld watches a key that is held, in exchanges queued one behind the other.
func (h holding) watchHeld(k int, long time.Duration) (sum fixture.Hold, err error) {
	lower, upper := h.set.Thresholds(k)
	var routines []*fixture.Routine
	for range int(math.Ceil(long.Seconds() / glanceHeld.Seconds())) {
		q := h.key(k)
		q.r.Capture(fixture.Watch{Channel: q.feed, Lower: lower, Upper: upper, Window: glanceHeld, Quiet: glanceHeld})
		routines = append(routines, q.r)
	}
	err = h.line.perform(routines, func(i int, d fixture.Done) error {
		if i == 0 {
			sum = d.Hold(0)
		} else {
			sum = sum.Then(d.Hold(0))
		}
		return nil
	})
	return sum, err
}
