package station

import "sync"

// Bell tells any number of listeners that something changed. Ringing never
// waits: a listener who is behind hears one ring for many changes and looks at
// what is so now.
type Bell struct {
	mu   sync.Mutex
	ears map[chan struct{}]bool
}

// Listen gives a channel that has an element in it after every ring, and a
// function to stop listening.
func (b *Bell) Listen() (rings <-chan struct{}, stop func()) {
	ear := make(chan struct{}, 1)
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.ears == nil {
		b.ears = map[chan struct{}]bool{}
	}
	b.ears[ear] = true
	return ear, func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		delete(b.ears, ear)
	}
}

// Ring tells everybody who listens.
func (b *Bell) Ring() {
	b.mu.Lock()
	defer b.mu.Unlock()
	for ear := range b.ears {
		select {
		case ear <- struct{}{}:
		default:
		}
	}
}

func (b *Bell) heard() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return len(b.ears) > 0
}
