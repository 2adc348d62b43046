// Package notices takes the plant's notices beside a station's lanes, and is never waited for but
// once: before the lanes begin, for a moment, so that a station that was away catches up first.
//
// Every few seconds a pump asks what hangs at the plant behind what the station has, and has it
// taken. While the plant is away it goes on asking, since a station that is there again should
// know at once; what is not believed is said once, and looked at again each time.
package notices

import (
	"context"
	"crypto/ed25519"
	"database/sql"
	"errors"
	"sync"
	"time"

	"padjig/cmd/padjig/log"
	"padjig/results/notices"
	"padjig/results/plant/board"
	"padjig/results/plant/notice"
)

// What is waited for, and how long.
const (
	look     = 5 * time.Second  // between looks
	lookFor  = 10 * time.Second // that one may take
	firstFor = 5 * time.Second  // that the lanes wait for the first
	together = 200              // notices that are taken in one transaction
)

// Pump takes the notices of one plant.
type Pump struct {
	Plant   *sql.DB
	Records *notices.Records
	Pinned  []ed25519.PublicKey     // of the plant
	Stale   time.Duration           // nothing heard for longer is said on the lanes
	Changed func(products []string) // releases of these came into force; nil: nobody wants to know
	Member  string                  // name of the station at the plant, which is told what it took; "": it is not

	taker   *notices.Taker
	head    time.Time // of the newest head that was looked at
	deaf    bool      // it was said that nothing is heard
	trouble *notice.Mistake
	told    told
}

// told is what the plant was told last of what was taken.
type told struct {
	number  int64
	trouble notice.Mistake
	at      time.Time // zero: nothing yet
	mute    bool      // it was said that it cannot be told
}

// tellAgain is after which time the same is said to the plant anew: a station that says nothing for longer counts as silent there.
const tellAgain = 5 * time.Minute

// First looks once, for a moment. What the records have already has to be this plant's notices:
// only that is an error, and nothing may be tested then.
func (p *Pump) First(ctx context.Context) (err error) {
	if p.taker, err = p.Records.Taker(ctx, p.Pinned, p.Stale); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, firstFor)
	defer cancel()
	p.attempt(ctx)
	return nil
}

// Start takes notices until end is called, which waits for what is being written down.
func (p *Pump) Start(ctx context.Context) (end func()) {
	ctx, stop := context.WithCancel(ctx)
	var done sync.WaitGroup
	done.Go(func() { p.Run(ctx) })
	return func() { stop(); done.Wait() }
}

// Run takes notices until ctx ends, after First.
func (p *Pump) Run(ctx context.Context) {
	again := time.NewTicker(look)
	defer again.Stop()
	for ctx.Err() == nil {
		select {
		case <-ctx.Done():
		case <-again.C:
			within, cancel := context.WithTimeout(ctx, lookFor)
			p.attempt(within)
			cancel()
		}
	}
}

func (p *Pump) attempt(ctx context.Context) {
	err := p.Once(ctx)
	switch {
	case errors.Is(ctx.Err(), context.Canceled):
		return // the station ends
	case err != nil && !p.deaf:
		log.From(ctx).Warn(log.PlantNotHeard, "error", err)
	case err == nil && p.deaf:
		log.From(ctx).Info(log.PlantHeard, "number", p.taker.Number())
	}
	p.deaf = err != nil
	if err == nil {
		p.tell(ctx)
	}
}

// tell says at the plant what was taken. It decides nothing here: what cannot be said, the next look says.
func (p *Pump) tell(ctx context.Context) {
	now, trouble := time.Now(), notice.Mistake{}
	if p.trouble != nil {
		trouble = *p.trouble
	}
	number := p.taker.Number()
	if p.Member == "" || number == p.told.number && trouble == p.told.trouble && now.Sub(p.told.at) < tellAgain {
		return
	}
	err := board.Took(ctx, p.Plant, p.Member, number, p.trouble)
	switch {
	case errors.Is(ctx.Err(), context.Canceled):
	case err != nil && !p.told.mute:
		p.told.mute = true
		log.From(ctx).Warn(log.NoticesNotTold, "error", err)
	case err == nil:
		p.told = told{number: number, trouble: trouble, at: now}
	}
}

// Once takes all that hangs at the plant.
func (p *Pump) Once(ctx context.Context) error {
	for {
		list, head, err := board.Read(ctx, p.Plant, p.taker.Number(), together)
		if err != nil {
			return err
		}
		if len(list) == 0 && head != nil && head.Issued.Equal(p.head) {
			return nil // as at the look before
		}
		more := len(list) == together
		done, err := p.taker.Take(ctx, notices.Heard{Notices: list, Head: head, More: more})
		if err != nil {
			return err
		}
		p.trouble = done.Trouble
		p.log(ctx, done)
		if !more || done.Trouble != nil {
			if head != nil {
				p.head = head.Issued
			}
			return nil
		}
	}
}

// log says what was taken, and what is not believed.
func (p *Pump) log(ctx context.Context, done notices.Taken) {
	var products []string
	for _, n := range done.Notices {
		log.From(ctx).Info(log.NoticeTaken, "number", n.Number, "kind", string(n.Kind), "subject", n.Subject, "outcome", string(n.Outcome))
		if n.OfProduct() && n.Outcome == notices.InForce {
			products = append(products, n.Subject)
		}
	}
	if done.News && done.Trouble != nil {
		log.From(ctx).Error(log.NoticeNotBelieved, "code", string(done.Trouble.Code), "number", done.Trouble.Number, "why", done.Trouble.Why)
	}
	if p.Changed != nil && len(products) > 0 {
		p.Changed(products)
	}
}
