// Package queue hands work from those who take it on to who does it, one at a time.
package queue

import "sync"

// Of is a queue of one: work is put in with the change that shows its lane busy, so that there
// is room.
type Of[W any] struct {
	Wake chan struct{} // of one: there is something to look at

	mu      sync.Mutex
	waiting *W // not yet taken up
	latest  *W // in hand, if anything is
}

// New makes an empty one.
func New[W any]() *Of[W] { return &Of[W]{Wake: make(chan struct{}, 1)} }

// Put puts work in.
func (q *Of[W]) Put(w *W) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.waiting, q.latest = w, w
}

// Take takes up what waits, nil if nothing does.
func (q *Of[W]) Take() *W {
	q.mu.Lock()
	defer q.mu.Unlock()
	w := q.waiting
	q.waiting = nil
	return w
}

// InHand is what was taken on last.
func (q *Of[W]) InHand() *W {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.latest
}
