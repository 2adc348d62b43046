package watch

import (
	"sync"

	"padjig/fixture/link"
)

// trafficKept is how many frames are kept for those who look.
const trafficKept = 400

// Traffic keeps the last frames that went over the line, while somebody looks;
// nobody pays for it otherwise.
type Traffic struct {
	notifier Notifier

	mu     sync.Mutex
	frames []link.Event
	total  uint64 // frames seen since the lane was made
}

// Add keeps a frame; it waits for nobody.
func (t *Traffic) Add(e link.Event) {
	if !t.notifier.Watched() {
		return
	}
	t.mu.Lock()
	t.frames = append(t.frames, e)
	if extra := len(t.frames) - trafficKept; extra > 0 {
		t.frames = append(t.frames[:0], t.frames[extra:]...)
	}
	t.total++
	t.mu.Unlock()
	t.notifier.Notify()
}

// Subscribe begins to keep frames and tells of new ones.
func (t *Traffic) Subscribe() (news <-chan struct{}, stop func()) { return t.notifier.Subscribe() }

// Since gives the frames after number from, as far as they are kept, and the
// number of the last one.
func (t *Traffic) Since(from uint64) (frames []link.Event, last uint64) {
	t.mu.Lock()
	defer t.mu.Unlock()
	n := min(t.total-min(from, t.total), uint64(len(t.frames)))
	return append(frames, t.frames[uint64(len(t.frames))-n:]...), t.total
}
