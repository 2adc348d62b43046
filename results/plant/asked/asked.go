// Package asked asks the plant what other stations know of a unit, and never has a test wait for longer than a bound.
//
// A [Plant] is asked as soon as a unit is scanned ([Plant.Ask]), while jig and records are looked at. Whoever decides takes
// what has come ([Question.Known]) and, at the last moment before anything moves, settles the question ([Question.Settle]):
// it waits until the bound is over, counted from the scan, and not at all where that has passed. What comes later changes nothing of
// that decision. An answer belongs to its question, and a question to one unit: the answer about one unit cannot be taken for the next.
//
// A plant that was late a few times in a row is asked in the background only, one question at a time, and not waited for,
// until it answers within the bound again. So a dead plant costs a few units the bound, and those after them nothing.
//
// What the questions to the database are is in [At]; deciding is elsewhere (results/runs.History.With).
package asked

import (
	"context"
	"errors"
	"sync"
	"time"

	"padjig/fixture/caught"
	"padjig/results/plant/postgres"
	"padjig/results/runs/elsewhere"
)

// How the plant is asked.
const (
	UsualWait = 300 * time.Millisecond // for an answer
	tries     = 3                      // late ones in a row after which the plant is not waited for
	giveUp    = 10 * time.Second       // the longest that a question stays with the plant
	fresh     = 30 * time.Second       // after which what was said of a unit is asked once more before it moves
	atOnce    = 32                     // questions at the plant at a time: twice the lanes of a station
)

// Plant is what a station asks of its plant. The zero value and nil ask nothing: the station has no plant.
type Plant struct {
	look Look
	wait time.Duration
	ctx  context.Context
	end  context.CancelFunc
	all  sync.WaitGroup

	mu      sync.Mutex
	late    int // answers that did not come in time, in a row
	pending int // questions at the plant
}

// New asks by look, and waits so long for an answer; 0: it asks nothing, and every unit is decided about without the plant.
func New(look Look, wait time.Duration) *Plant {
	p := &Plant{look: look, wait: wait}
	p.ctx, p.end = context.WithCancel(context.Background())
	return p
}

// Close gives up what is asked, and waits until that has ended.
func (p *Plant) Close() {
	p.mu.Lock()
	p.end() // nobody is admitted from now on
	p.mu.Unlock()
	p.all.Wait()
}

// Silent reports whether the plant is not waited for at present, since it did not answer.
func (p *Plant) Silent() bool {
	if p == nil {
		return false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.late >= tries
}

// Ask asks what is known of a unit, without waiting. Nil asks nothing, and gives nil.
func (p *Plant) Ask(serial string) *Question {
	if p == nil {
		return nil
	}
	q := &Question{plant: p, serial: serial}
	q.ask()
	return q
}

// admit says whether a question may go to the plant, and whether anybody waits for its answer.
func (p *Plant) admit() (ask, wait bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	silent := p.late >= tries
	if p.pending >= atOnce || silent && p.pending > 0 || p.ctx.Err() != nil {
		return false, false
	}
	p.pending++
	p.all.Add(1)
	return true, !silent
}

// heard counts how a question ended, or that its time was over.
func (p *Plant) heard(inTime bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.late++
	if inTime {
		p.late = 0
	}
}

// Question is what was asked about one unit. Nil is the question of a station without a plant.
type Question struct {
	plant  *Plant
	serial string

	mu      sync.Mutex
	round   *round
	settled *elsewhere.Answer // what was gone by; nil: nothing was decided yet
}

// round is one time that it was asked.
type round struct {
	asked  time.Time
	until  time.Time         // that it is waited for
	came   chan struct{}     // closed when it was answered, or could not be
	answer *elsewhere.Answer // nil before
}

// ask asks; q.mu is not held by others yet, or is by the caller.
func (q *Question) ask() {
	p, now := q.plant, time.Now()
	r := &round{asked: now, until: now, came: make(chan struct{})}
	q.round = r
	if p.wait <= 0 {
		r.answer = &elsewhere.Answer{Word: elsewhere.NotAsked}
		close(r.came)
		return
	}
	goes, waited := p.admit()
	if !goes {
		r.answer = &elsewhere.Answer{Word: elsewhere.Away}
		close(r.came)
		return
	}
	if waited {
		r.until = now.Add(p.wait)
	}
	go q.carry(r)
}

// carry has the plant asked, and notes when it is late, before the answer comes.
func (q *Question) carry(r *round) {
	p := q.plant
	defer p.all.Done()
	ctx, cancel := context.WithTimeout(p.ctx, giveUp)
	defer cancel()
	late := time.AfterFunc(p.wait, func() { p.heard(false) })
	var unit *elsewhere.Unit
	var err error
	if panicked := caught.Panic(func() { unit, err = p.look(ctx, q.serial) }); panicked != nil {
		err = panicked
	}
	inTime := late.Stop()
	p.mu.Lock()
	p.pending--
	p.mu.Unlock()
	if inTime {
		p.heard(err == nil)
	}
	answer := elsewhere.Answer{Word: wordOf(err), Took: time.Since(r.asked)}
	if err == nil {
		answer.Unit = unit
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	r.answer = &answer
	close(r.came)
}

func wordOf(err error) elsewhere.Word {
	switch {
	case err == nil:
		return elsewhere.Given
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		return elsewhere.Late
	case postgres.Away(err):
		return elsewhere.Away
	}
	return elsewhere.Refused
}

// Known is what is known of the unit at other stations by now, nil for nothing. It does not wait. Once the question is settled, it
// is what was gone by.
func (q *Question) Known() *elsewhere.Unit {
	if q == nil {
		return nil
	}
	q.mu.Lock()
	defer q.mu.Unlock()
	switch {
	case q.settled != nil:
		return q.settled.Unit
	case q.round.answer != nil:
		return q.round.answer.Unit
	}
	return nil
}

// Settle gives what is gone by from now on. It waits until the bound is over where the answer is not there, and asks once more
// where it has become old, as of a unit that lay in an open jig for minutes. What was known before stays known where
// the plant does not answer any more.
func (q *Question) Settle(ctx context.Context) elsewhere.Answer {
	if q == nil {
		return elsewhere.Answer{}
	}
	q.mu.Lock()
	if q.settled != nil {
		defer q.mu.Unlock()
		return *q.settled
	}
	before := q.round.answer
	if before != nil && time.Since(q.round.asked) > fresh && q.plant.wait > 0 {
		q.ask()
	}
	r := q.round
	q.mu.Unlock()

	timer := time.NewTimer(time.Until(r.until))
	defer timer.Stop()
	select {
	case <-r.came: // also where the time is over by now
	default:
		select {
		case <-r.came:
		case <-timer.C:
		case <-ctx.Done():
		}
	}

	q.mu.Lock()
	defer q.mu.Unlock()
	answer := elsewhere.Answer{Word: elsewhere.Late, Took: time.Since(r.asked)}
	if r.answer != nil {
		answer = *r.answer
	}
	if answer.Unit == nil && before != nil {
		answer.Unit = before.Unit
	}
	q.settled = &answer
	return answer
}
