package handoff

import (
	"context"
	"errors"
	"math/rand/v2"
	"sync"
	"time"

	"padjig/cmd/padjig/log"
	"padjig/results/handoff"
)

// What is waited for, and how long.
const (
	look      = time.Second      // between looks whether there is something new
	keepEvery = time.Second      // that a receiver has more is kept no more often, while there is more to send
	ahead     = 64               // events that are read at a time
	sendFor   = 30 * time.Second // that one event may take to be taken
	firstTry  = time.Second      // until the next try after the first one that failed
	lastTry   = 5 * time.Minute  // the longest until the next
	longest   = time.Hour        // that a receiver can ask to be left alone
)

// Records are what a pump takes from the records.
type Records interface {
	Begin(ctx context.Context, receiver string) (*handoff.Progress, error)
	Receiver(ctx context.Context, receiver string) (*handoff.Progress, error)
	Alone(receiver string) (release func(), taken bool, err error)
	Last(ctx context.Context) (handoff.Last, error)
	Next(ctx context.Context, after int64, n int) ([]handoff.Event, error)
	Tell(ctx context.Context, e handoff.Event) (handoff.Told, error)
	Delivered(ctx context.Context, st *handoff.Progress, upTo int64) error
	Failing(ctx context.Context, receiver string, event int64, why string, next time.Time) error
	Refused(ctx context.Context, receiver string, event int64, why string) error
}

// Pump hands events on to one receiver.
type Pump struct {
	Name     string
	Records  Records
	Sender   Sender
	Practice bool // also what is simulated, and of engineering

	st    *handoff.Progress
	done  int64 // number of the last event that the receiver has, kept or not
	kept  time.Time
	tries int // that failed in a row
}

// Run hands on until ctx ends. What goes wrong with the records is tried again as well:
// a test in the same program says so louder.
func (p *Pump) Run(ctx context.Context) {
	defer p.Sender.Close()
	for ctx.Err() == nil {
		release, taken, err := p.Records.Alone(p.Name)
		if err == nil && taken {
			wait(ctx, look)
			continue
		}
		if err == nil {
			err = p.alone(ctx)
			release()
		}
		if err != nil && ctx.Err() == nil {
			log.From(ctx).Warn(log.HandOffFailed, "receiver", p.Name, "error", err)
			wait(ctx, p.delay(err))
		}
	}
}

// Start hands on to receivers until end is called, which waits for what is being written down.
func Start(ctx context.Context, records Records, receivers []Receiver, practice bool) (end func()) {
	ctx, stop := context.WithCancel(ctx)
	var all sync.WaitGroup
	for _, r := range receivers {
		all.Go(func() { (&Pump{Name: r.Name, Records: records, Sender: r.Sender, Practice: practice}).Run(ctx) })
	}
	return func() { stop(); all.Wait() }
}

// alone hands on while no other program does.
func (p *Pump) alone(ctx context.Context) (err error) {
	if p.st, err = p.Records.Begin(ctx, p.Name); err != nil {
		return err
	}
	p.done, p.kept = p.st.Has, time.Now()
	for ctx.Err() == nil {
		last, err := p.Records.Last(ctx)
		if err == nil {
			err = p.all(ctx)
		}
		// Also when ctx has ended: what the receiver has need not be sent again.
		if err = errors.Join(err, p.keep(context.WithoutCancel(ctx))); err != nil {
			return err
		}
		if err := p.idle(ctx, last); err != nil {
			return err
		}
	}
	return nil
}

// idle waits until there is something new: an event, or a person's word.
func (p *Pump) idle(ctx context.Context, last handoff.Last) error {
	for ctx.Err() == nil {
		now, err := p.Records.Last(ctx)
		if err != nil {
			return err
		}
		if now.Kept != last.Kept {
			if err := p.again(ctx); err != nil {
				return err
			}
		}
		if now.Event > p.done {
			return nil
		}
		last.Kept = now.Kept
		wait(ctx, look)
	}
	return nil
}

// again takes up what is written down of the receiver.
func (p *Pump) again(ctx context.Context) error {
	st, err := p.Records.Receiver(ctx, p.Name)
	if err == nil {
		p.st, p.done = st, st.Has
	}
	return err
}

// all hands on what there is.
func (p *Pump) all(ctx context.Context) error {
	for ctx.Err() == nil {
		list, err := p.Records.Next(ctx, p.done, ahead)
		if err != nil || len(list) == 0 {
			return err
		}
		for _, e := range list {
			more, err := p.one(ctx, e)
			if err != nil {
				return err
			}
			if !more {
				break // the list is of before
			}
		}
	}
	return nil
}

// one hands on an event. It gives false where what is next is to be asked of the records.
func (p *Pump) one(ctx context.Context, e handoff.Event) (more bool, err error) {
	if !p.st.Leaves(e.Number) && (p.Practice || !e.Practice()) {
		if err := p.send(ctx, e); err != nil {
			return false, p.failed(ctx, e, err)
		}
		p.tries = 0
	}
	p.done = e.Number
	if time.Since(p.kept) < keepEvery {
		return ctx.Err() == nil, nil
	}
	before := p.done
	err = p.keep(ctx)
	return err == nil && p.done == before && ctx.Err() == nil, err
}

// unreadable is an event that cannot be told: nothing of the receiver's.
type unreadable struct{ error }

func (p *Pump) send(ctx context.Context, e handoff.Event) error {
	told, err := p.Records.Tell(ctx, e)
	if err != nil {
		return unreadable{err}
	}
	m, err := MessageOf(told)
	if err != nil {
		return unreadable{err}
	}
	ctx, cancel := context.WithTimeout(ctx, sendFor)
	defer cancel()
	return p.Sender.Send(ctx, m)
}

// keep writes down how far the receiver got, if that is news.
func (p *Pump) keep(ctx context.Context) error {
	p.kept = time.Now()
	if p.done == p.st.Has {
		return nil
	}
	err := p.Records.Delivered(ctx, p.st, p.done)
	if errors.Is(err, handoff.ErrMoved) {
		return p.again(ctx)
	}
	return err
}

// failed writes down why an event was not taken, and waits.
func (p *Pump) failed(ctx context.Context, e handoff.Event, why error) error {
	if ctx.Err() != nil {
		return nil // it was not the receiver that gave up
	}
	if err := p.keep(ctx); err != nil {
		return err
	}
	if p.done != e.Number-1 {
		return nil // somebody said from where on all is sent again
	}
	log.From(ctx).Warn(log.HandOffFailed, "receiver", p.Name, "event", e.Number, "error", why)
	if refused, is := errors.AsType[*RefusedError](why); is {
		return p.stop(ctx, e, refused.Why)
	}
	delay := p.delay(why)
	last, err := p.Records.Last(ctx)
	if err == nil {
		err = p.Records.Failing(ctx, p.Name, e.Number, why.Error(), time.Now().Add(delay))
	}
	if err != nil {
		return err
	}
	return p.pause(ctx, last, time.Now().Add(delay))
}

// delay is how long to leave a receiver alone: longer each time, and not for all at the
// same moment, unless it said how long.
func (p *Pump) delay(why error) time.Duration {
	p.tries++
	if later, is := errors.AsType[*LaterError](why); is && later.After > 0 {
		return min(later.After, longest)
	}
	delay := min(firstTry<<min(p.tries-1, 20), lastTry)
	return delay/2 + rand.N(delay/2+1)
}

// stop sends nothing more until a person has decided.
func (p *Pump) stop(ctx context.Context, e handoff.Event, why string) error {
	last, err := p.Records.Last(ctx)
	if err == nil {
		err = p.Records.Refused(ctx, p.Name, e.Number, why)
	}
	if err != nil {
		return err
	}
	return p.pause(ctx, last, time.Time{})
}

// pause waits until a time, for ever where it is zero, or until a person's word of this receiver.
func (p *Pump) pause(ctx context.Context, last handoff.Last, until time.Time) error {
	for ctx.Err() == nil && (until.IsZero() || time.Now().Before(until)) {
		now, err := p.Records.Last(ctx)
		if err != nil {
			return err
		}
		if now.Kept != last.Kept {
			if err := p.again(ctx); err != nil {
				return err
			}
			if p.st.Trouble == nil {
				p.tries = 0
				return nil
			}
			last.Kept = now.Kept
		}
		rest := look
		if !until.IsZero() {
			rest = min(look, time.Until(until))
		}
		wait(ctx, rest)
	}
	return nil
}

func wait(ctx context.Context, d time.Duration) {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
	case <-timer.C:
	}
}
