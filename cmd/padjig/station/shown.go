package station

import (
	"sync"
	"time"

	"padjig/cmd/padjig/station/pulse"
	"padjig/cmd/padjig/station/watch"
)

// shown is what a lane shows: its state, and the notifier that tells of changes. A
// change is seen whole or not at all, and is told of when it can be seen.
type shown struct {
	notifier watch.Notifier
	told     func(before, after *State) // see Setup.Told
	pulse    pulse.Pulse

	mu    sync.Mutex
	state State
}

// now is a copy of the state.
func (v *shown) now() State {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.state.clone()
}

// changeIf changes the state and tells everybody, unless do finds nothing to
// change. do must neither wait nor tell anybody itself.
func (v *shown) changeIf(do func(*State) bool) bool {
	changed := v.changed(do)
	if changed {
		v.notifier.Notify()
	}
	return changed
}

// changed lets go of the state also where do panics: whoever looks on must not hang for that.
func (v *shown) changed(do func(*State) bool) bool {
	v.mu.Lock()
	defer v.mu.Unlock()
	before := v.state
	if !do(&v.state) {
		return false
	}
	v.state.Version++
	v.state.Changed = time.Now()
	v.told(&before, &v.state)
	return true
}

// change is a change by a step forward.
func (v *shown) change(do func(*State)) { v.changeIf(func(s *State) bool { do(s); return true }) }

// advance is a change to another phase, or another matter within it.
func (v *shown) advance(do func(*State)) {
	v.change(func(s *State) {
		s.Note = nil
		do(s)
		s.Epoch++
	})
}

// linger hides a verdict that came up, or came back, when it is left alone for
// so long: nobody knows any more that it is about what lies in the jig. It does
// so whether the loop has its jig or not.
func (v *shown) linger(d time.Duration) {
	if d <= 0 {
		return
	}
	v.changeIf(func(s *State) bool { s.shown = time.Now(); return false })
	time.AfterFunc(d, func() {
		v.changeIf(func(s *State) bool {
			left := s.Phase == Ended && time.Since(s.shown) >= d
			if left {
				s.Phase, s.Note = Locked, nil
				s.Epoch++
			}
			return left
		})
	})
}
