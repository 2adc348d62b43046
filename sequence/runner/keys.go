package runner

import (
	"fmt"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/judge"
)

// pressing presses each key once, and looks again at what that left open.
type pressing struct {
	finder
	watch  watcher
	sheet  *judge.Sheet
	rest   *judge.Rest
	keys   *judge.Keys
	wiring *judge.Wiring
}

// exchanges presses each key in turn; what needs a second look is looked at when
// the row of exchanges is over. A key whose lines are already connected is
// hidden behind that fault.
func (p pressing) exchanges(step sequence.Step) []exchange {
	var out []exchange
	for _, k := range step.Keys {
		if p.rest.Hidden(k) {
			continue
		}
		q := p.whole(k, p.known)
		done := len(out) + 1
		out = append(out, exchange{q.r, func(d fixture.Done) error {
			err := p.done(q, d)
			p.watch.say(sequence.Progress{Step: step, Done: done, Total: len(step.Keys), Key: new(p.sheet.Keys[k])})
			return err
		}})
	}
	return out
}

// done judges one key's exchange.
func (p pressing) done(q *keyRoutine, d fixture.Done) error {
	p.keys.Others(q.key, readingsOf(d, q.groups))
	if p.set.Actuation == sequence.Electrical {
		p.keys.Joined(q.key, d.Resistance(q.low))
		return nil
	}
	return p.keys.Pressed(q.key, q.valueIn(d), q.edgesIn(d))
}

// again looks at what the keys left open, and then once more at rest, since keys were
// pressed for it. Nothing to look at means the plan's last routine was the last of all.
func (p pressing) again(rest atRest) error {
	looked := len(p.keys.Doubtful()) > 0 || len(p.keys.Strays()) > 0
	if err := p.repeatDoubtful(); err != nil {
		return fmt.Errorf("read again: %w", err)
	}
	if err := p.locateStrays(); err != nil {
		return fmt.Errorf("find what else closed: %w", err)
	}
	if p.wiring.Judge() {
		return ended{sequence.Reseat, sequence.Fact(sequence.TailTurned)}
	}
	if looked {
		return rest.again()
	}
	return nil
}

// repeatDoubtful reads again, with more samples, what fell into the guard band.
func (p pressing) repeatDoubtful() error {
	var queue []*keyRoutine
	for _, k := range p.keys.Doubtful() {
		queue = append(queue, p.valueOf(k, p.known))
	}
	if len(queue) == 0 {
		return nil
	}
	return p.line.presses(queue, func(q *keyRoutine, d fixture.Done) error { return p.keys.Again(q.key, q.valueIn(d)) })
}

// locateStrays presses each key again during whose press other lines touched,
// holds it, and finds which; not all of them where a few tell enough.
func (p pressing) locateStrays() error {
	for _, s := range p.keys.Strays() {
		if p.wiring.Told() {
			return nil
		}
		found, err := p.whileHeld(s.Key)
		if err != nil {
			return err
		}
		if err := p.wiring.Located(s, found); err != nil {
			return err
		}
	}
	return nil
}

// whileHeld lists the pairs of lines that are connected while a key is held,
// its own pair included.
func (p pressing) whileHeld(k int) ([]judge.Connection, error) {
	if _, err := p.line.one(p.down(k, max(p.set.Product.Keys[k].Limits.Make, minQuiet))); err != nil {
		return nil, err
	}
	found, err := p.closePairs(p.set.Mid, p.set.WhileHeld)
	if err != nil {
		return nil, err
	}
	_, err = p.line.one(p.up(k))
	return found, err
}

// rectangles holds three corners and reads the fourth, for every diode that
// has a rectangle.
func (p pressing) rectangles(step sequence.Step) []exchange {
	var out []exchange
	for i, k := range step.Keys {
		t, ok := judge.RectangleOf(p.set.Product, k)
		if !ok {
			continue
		}
		routine, held, fourth := p.rectangle(t)
		out = append(out, exchange{routine, func(d fixture.Done) error {
			p.watch.say(sequence.Progress{Step: step, Done: i + 1, Total: len(step.Keys)})
			p.keys.Ghost(t, readingsOf(d, held), d.Resistance(fourth))
			return nil
		}})
	}
	return out
}

// rectangle reads the three that are held too: a jig that holds fewer than it says, or a
// key that did not go down, would make any fourth corner look good.
func (m routines) rectangle(t judge.Rectangle) (r *fixture.Routine, held []fixture.Slot, fourth fixture.Slot) {
	makes, breaks := minQuiet, minQuiet
	q := &keyRoutine{routines: m, key: t.Fourth, r: m.routine()}
	q.feed, q.ground = m.ends(t.Fourth)
	for _, k := range t.Held {
		key := m.set.Product.Keys[k]
		q.r.Press(key.Actuator)
		makes, breaks = max(makes, key.Limits.Make), max(breaks, key.Limits.Break)
	}
	q.r.Wait(m.set.Jig.TravelDown + makes)
	q.across()
	q.glance()
	for _, k := range t.Held {
		corner := &keyRoutine{routines: m, key: k, r: q.r}
		corner.feed, corner.ground = m.ends(k)
		corner.across()
		corner.glance()
		held = append(held, corner.mid)
	}
	for _, k := range t.Held {
		q.r.Release(m.set.Product.Keys[k].Actuator)
	}
	q.r.Wait(m.set.Jig.TravelUp + breaks)
	return q.r, held, q.mid
}
