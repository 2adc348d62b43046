// Package forward brings a station's records to the plant beside its lanes, and is never waited for.
//
// A pump takes one batch after the other of what the records have and the plant has not, and keeps nothing of its
// own: how far it came is written down at the plant. While there is much to bring it rests as long as it
// worked, so that a test has the computer too; while the plant is away it tries ever less often; what only a person can
// mend it says once an hour.
package forward

import (
	"context"
	"errors"
	"math/rand/v2"
	"sync"
	"time"

	"padjig/cmd/padjig/log"
	plant "padjig/results/plant/forward"
)

// What is waited for, and how long.
const (
	look     = time.Second     // between looks whether there is something new
	batchFor = 2 * time.Minute // that one batch may take; then a smaller one is tried
	firstTry = time.Second     // until the next try after the first one that failed
	lastTry  = 5 * time.Minute // the longest until the next
	stopped  = time.Minute     // between looks whether somebody put right what stopped it
	again    = time.Hour       // after which what stopped it is said again
	slow     = 10 * time.Second
	smallest = 500 // rows of runs: a run or a few
)

// Bringer brings batches; [plant.Forwarder] is one.
type Bringer interface {
	Batch(ctx context.Context, size int) (plant.Brought, error)
	Close()
}

// State is how a pump stands.
type State struct {
	Began   time.Time
	Last    time.Time // when it last had the plant's word that everything it sent is there; zero: never yet
	Behind  int64     // runs that the plant had not then
	Rows    int64     // that it brought
	Ahead   time.Duration
	Known   bool                // Behind and Ahead are known
	Trouble error               // why the last batch failed; nil: it did not
	Stopped *plant.StoppedError // it waits for a person; nil: it does not
}

// Pump forwards the records of a station.
type Pump struct {
	Bring Bringer

	size  int
	tries int       // that failed in a row
	said  time.Time // when it was last said why it is stopped

	mu    sync.Mutex
	state State
}

// State gives how it stands.
func (p *Pump) State() State {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.state
}

// Start forwards until end is called, which waits for the batch that is under way to be given up.
func (p *Pump) Start(ctx context.Context) (end func()) {
	ctx, stop := context.WithCancel(ctx)
	var done sync.WaitGroup
	done.Go(func() { p.Run(ctx) })
	return func() { stop(); done.Wait() }
}

// Run forwards until ctx ends.
func (p *Pump) Run(ctx context.Context) {
	defer p.Bring.Close()
	p.size = plant.UsualSize
	p.note(func(s *State) { s.Began = time.Now() })
	for ctx.Err() == nil {
		began := time.Now()
		m, err := p.batch(ctx)
		took := time.Since(began)
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			wait(ctx, p.failed(ctx, err))
		case m.More:
			p.succeeded(ctx, m, took)
			wait(ctx, took)
		default:
			p.succeeded(ctx, m, took)
			wait(ctx, look)
		}
	}
}

func (p *Pump) batch(ctx context.Context) (plant.Brought, error) {
	ctx, cancel := context.WithTimeout(ctx, batchFor)
	defer cancel()
	return p.Bring.Batch(ctx, p.size)
}

// succeeded notes a batch that is at the plant.
func (p *Pump) succeeded(ctx context.Context, m plant.Brought, took time.Duration) {
	if p.tries > 0 {
		log.From(ctx).Info(log.ForwardingGoesOn, "behind", m.LeftRuns)
	}
	p.tries, p.said = 0, time.Time{}
	if took > slow {
		p.size = max(p.size/2, smallest)
	} else {
		p.size = min(p.size*2, plant.UsualSize)
	}
	p.note(func(s *State) {
		s.Last, s.Behind, s.Known, s.Trouble, s.Stopped = time.Now(), m.LeftRuns, true, nil, nil
		s.Rows += m.Rows
		if m.Runs > 0 {
			s.Ahead = m.Offset
		}
	})
}

// failed notes a batch that is not, or not known to be, at the plant, and gives how long to wait.
func (p *Pump) failed(ctx context.Context, err error) time.Duration {
	p.tries++
	if errors.Is(err, context.DeadlineExceeded) {
		p.size = max(p.size/4, smallest)
	}
	halt, isStopped := errors.AsType[*plant.StoppedError](err)
	p.note(func(s *State) { s.Trouble, s.Stopped = err, halt })
	if !isStopped {
		delay := min(firstTry<<min(p.tries-1, 20), lastTry)
		log.From(ctx).Warn(log.ForwardingFailed, "tries", p.tries, "error", err)
		return delay/2 + rand.N(delay/2+1) // not all stations at the same moment
	}
	if time.Since(p.said) >= again {
		p.said = time.Now()
		log.From(ctx).Error(log.ForwardingStopped, "code", halt.Code, "error", err)
	}
	return stopped
}

func (p *Pump) note(change func(*State)) {
	p.mu.Lock()
	defer p.mu.Unlock()
	change(&p.state)
}

func wait(ctx context.Context, d time.Duration) {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
	case <-timer.C:
	}
}
