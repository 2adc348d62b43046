package station

import (
	"slices"
	"sync"
)

// Bell tells any number of listeners that something changed. Ringing never
// waits: a listener who is behind hears one ring for many changes and looks at
// what is so now.
type Bell struct {
	mu   sync.Mutex
	ears []chan struct{} // replaced, never changed: who rings goes through them without the lock
}

// Listen gives a channel that has an element in it after every ring, and a
// function to stop listening.
func (b *Bell) Listen() (rings <-chan struct{}, stop func()) {
	ear := make(chan struct{}, 1)
	b.mu.Lock()
	defer b.mu.Unlock()
	b.ears = append(slices.Clip(b.ears), ear)
	return ear, func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		b.ears = slices.DeleteFunc(slices.Clone(b.ears), func(e chan struct{}) bool { return e == ear })
	}
}

// Ring tells everybody who listens.
func (b *Bell) Ring() {
	for _, ear := range b.listeners() {
		ring(ear)
	}
}

// ring puts an element into a channel of one, if there is none.
func ring(c chan<- struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

func (b *Bell) listeners() []chan struct{} {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.ears
}
