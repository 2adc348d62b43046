package notices

import (
	"context"
	"sync"
	"time"

	"padjig/cmd/padjig/log"
	"padjig/results/notices"
)

// State is how an office stands that publishes by itself.
type State struct {
	Last    time.Time // everything that was decided then hangs at the plant; zero: not yet
	Count   int64     // notices that hung there then
	Tried   time.Time
	Trouble error     // why it was not put up when that was tried last; nil: it was
	Since   time.Time // of the trouble
}

// Office publishes what is decided, again and again: also where nothing was, so that stations know
// that nothing was. What goes wrong is kept in its state, logged, and tried again.
type Office struct {
	publisher *Publisher
	every     time.Duration
	told      func(Published) // of what was done each time; nil: nobody wants to know
	turn      chan struct{}   // whoever put something in publishes; one at a time

	mu    sync.Mutex
	state State
	said  time.Time // when it was last logged that it fails
}

// NewOffice makes one that publishes every so often, and tells what of it each time.
func NewOffice(p *Publisher, every time.Duration, told func(Published)) *Office {
	return &Office{publisher: p, every: every, told: told, turn: make(chan struct{}, 1)}
}

// tryFor is how long one try may take.
const tryFor = 20 * time.Second

// saidAgain is after which time it is logged again that nothing is put up.
const saidAgain = time.Hour

// Every is how often it publishes.
func (o *Office) Every() time.Duration { return o.every }

// State gives how it stands.
func (o *Office) State() State {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.state
}

// Now publishes once, and gives how it stands after that: at once, where somebody waits for it.
func (o *Office) Now(ctx context.Context) State {
	select {
	case o.turn <- struct{}{}:
		defer func() { <-o.turn }()
	case <-ctx.Done():
		return o.State()
	}
	within, cancel := context.WithTimeout(ctx, tryFor)
	defer cancel()
	done, err := o.publisher.Once(within, notices.Further{}, nil)
	if err != nil && ctx.Err() != nil {
		return o.State() // nobody waits any more: the next time shows
	}
	o.note(ctx, done, err, time.Now())
	if err == nil && o.told != nil {
		o.told(done)
	}
	return o.State()
}

// note keeps what came of a try.
func (o *Office) note(ctx context.Context, done Published, err error, now time.Time) {
	o.mu.Lock()
	was := o.state.Trouble
	o.state.Tried, o.state.Trouble = now, err
	if err == nil {
		o.state.Last, o.state.Count = now, done.Head.Count
	} else if was == nil {
		o.state.Since = now
	}
	says := err != nil && (was == nil || now.Sub(o.said) >= saidAgain)
	if says {
		o.said = now
	}
	o.mu.Unlock()
	switch {
	case says:
		log.From(ctx).Error(log.NoticesNotPut, "error", err)
	case err == nil && (was != nil || done.Put > 0):
		log.From(ctx).Info(log.NoticesPut, "put", done.Put, "count", done.Head.Count, "issued", len(done.Issued))
	}
}

// Start publishes until end is called, which waits for the try that is under way.
func (o *Office) Start(ctx context.Context) (end func()) {
	ctx, stop := context.WithCancel(ctx)
	var done sync.WaitGroup
	done.Go(func() { o.Run(ctx) })
	return func() { stop(); done.Wait() }
}

// Run publishes at once and then every so often, until ctx ends.
func (o *Office) Run(ctx context.Context) {
	again := time.NewTicker(o.every)
	defer again.Stop()
	for ctx.Err() == nil {
		o.Now(ctx)
		select {
		case <-ctx.Done():
		case <-again.C:
		}
	}
}
