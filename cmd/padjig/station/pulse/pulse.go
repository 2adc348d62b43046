// Package pulse tells from outside whether a loop still turns, or works at something that may take its time.
package pulse

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"
)

// How long a loop may be silent: between two turns, and while it works at something that people have a part in.
const (
	BetweenTurns = 30 * time.Second
	AtUnit       = 5 * time.Minute // longer than a lid, a start or a key is waited for
	OnJig        = time.Hour       // what a person does at a jig step by step
)

// restBeat is how often a loop that rests shows that it would wake up.
const restBeat = time.Second

// ErrNotBegun says that a loop was not there yet.
var ErrNotBegun = errors.New("has not begun")

// Pulse is that of one loop; its zero value is one that has not begun.
type Pulse struct {
	mu    sync.Mutex
	last  time.Time
	quiet time.Duration // it may be silent for so long; 0: BetweenTurns
}

// Beat says that the loop has got somewhere.
func (p *Pulse) Beat() {
	p.mu.Lock()
	p.last = time.Now()
	p.mu.Unlock()
}

// Work says that the loop works at something now, and may be silent for so long at it, until done is called.
func (p *Pulse) Work(quiet time.Duration) (done func()) {
	p.allow(quiet)
	return func() { p.allow(0) }
}

func (p *Pulse) allow(quiet time.Duration) {
	p.mu.Lock()
	p.last, p.quiet = time.Now(), quiet
	p.mu.Unlock()
}

// Rest has the loop wait until it is woken, d is over (0: never), or ctx ends.
func (p *Pulse) Rest(ctx context.Context, wake <-chan struct{}, d time.Duration) {
	over := make(<-chan time.Time)
	if d > 0 {
		timer := time.NewTimer(d)
		defer timer.Stop()
		over = timer.C
	}
	beat := time.NewTicker(restBeat)
	defer beat.Stop()
	for p.Beat(); ; p.Beat() {
		select {
		case <-ctx.Done():
			return
		case <-wake:
			return
		case <-over:
			return
		case <-beat.C:
		}
	}
}

// Turning says why the loop does not count as turning, nil if it does.
func (p *Pulse) Turning() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.last.IsZero() {
		return ErrNotBegun
	}
	quiet := p.quiet
	if quiet == 0 {
		quiet = BetweenTurns
	}
	if silent := time.Since(p.last); silent > quiet {
		return fmt.Errorf("has stood still for %s, at most %s is usual", silent.Round(time.Second), quiet)
	}
	return nil
}
