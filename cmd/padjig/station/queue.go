package station

import (
	"context"
	"sync"
)

// work is what a lane has in hand, from when it is taken on: a unit to be tested
// or an exclusive task. It can be stopped from then on, also before the loop takes it up.
type work struct {
	scan      Scan
	back      bool       // the unit's verdict stands again if nobody can have taken it out
	exclusive *exclusive // nil for a test
	ctx       context.Context
	stop      context.CancelFunc
}

func newWork(ctx context.Context, scan Scan, e *exclusive) *work {
	ctx, stop := context.WithCancel(ctx)
	return &work{scan: scan, exclusive: e, ctx: ctx, stop: stop}
}

// queue hands work to the loop, one at a time: it is put in with the change that
// shows a lane busy, so that there is room.
type queue struct {
	wake chan struct{} // of one: the loop has something to look at

	mu      sync.Mutex
	waiting *work // not yet taken up
	latest  *work // in hand, if anything is
}

func (q *queue) put(w *work) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.waiting, q.latest = w, w
}

// take takes up what waits, nil if nothing does.
func (q *queue) take() *work {
	q.mu.Lock()
	defer q.mu.Unlock()
	w := q.waiting
	q.waiting = nil
	return w
}

// inHand is what was taken on last.
func (q *queue) inHand() *work {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.latest
}

// notify puts an element into a channel of one, if there is none.
func notify(c chan<- struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}
