// Package watch is for those who look on: they are told that something changed, and see the
// last frames on a line, without anybody waiting for them.
package watch

import (
	"slices"
	"sync"
)

// Notifier tells any number of subscribers that something changed. Notifying never
// waits: a subscriber who is behind hears of many changes once and looks at
// what is so now.
type Notifier struct {
	mu          sync.Mutex
	subscribers []chan struct{} // replaced, never changed: who notifies goes through them without the lock
}

// Subscribe gives a channel that has an element in it after every change, and a
// function to end that.
func (b *Notifier) Subscribe() (changes <-chan struct{}, stop func()) {
	subscriber := make(chan struct{}, 1)
	b.mu.Lock()
	defer b.mu.Unlock()
	b.subscribers = append(slices.Clip(b.subscribers), subscriber)
	return subscriber, func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		b.subscribers = slices.DeleteFunc(slices.Clone(b.subscribers), func(e chan struct{}) bool { return e == subscriber })
	}
}

// Notify tells every subscriber.
func (b *Notifier) Notify() {
	for _, subscriber := range b.current() {
		notify(subscriber)
	}
}

// notify puts an element into a channel of one, if there is none.
func notify(c chan<- struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// Watched reports whether there is any subscriber.
func (b *Notifier) Watched() bool { return len(b.current()) > 0 }

func (b *Notifier) current() []chan struct{} {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.subscribers
}
