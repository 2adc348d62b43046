package linesim

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/floor"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Line is a simulated line.
type Line struct {
	Product *product.Product
	Runs    int       // how many to make
	Seed    uint64    // the same seed, product, number and beginning give the same entries
	Begin   time.Time // of the first run; the line then works day and night
	Zone    string    // of its shifts, such as "Europe/Vienna"
	// Next is the revision that follows while the line works; nil: one that allows a
	// tenth less resistance.
	Next *product.Product
	// Cycle is from one unit to the next on a jig; 0: half a minute, or as long as a unit
	// takes where that is longer.
	Cycle time.Duration
	// Before is how many serial numbers were given out before: two lines have the same units unless theirs lie apart.
	Before int
}

// The line as it is set up.
const (
	jigs       = 4
	usualCycle = 30 * time.Second
)

// lineShifts are the shifts of the line.
var lineShifts = []floor.Shift{
	{Name: "early", Begins: 6 * 60, Ends: 14 * 60},
	{Name: "late", Begins: 14 * 60, Ends: 22 * 60},
	{Name: "night", Begins: 22 * 60, Ends: 6 * 60},
}

// operators work in turns: each shift has a pair for the two halves of the line.
var operators = map[string][2]string{
	"early": {"Ines", "Tomas"}, "late": {"Ann", "Mirek"}, "night": {"Lea", "Pavel"},
}

// Mistakes lists everything that keeps the line from being made.
func (l Line) Mistakes() []string {
	var out []string
	if l.Runs < 1 || l.Runs > mostRuns {
		out = append(out, fmt.Sprintf("%d runs: ask for 1 to %d", l.Runs, mostRuns))
	}
	if _, err := time.LoadLocation(l.Zone); err != nil {
		out = append(out, fmt.Sprintf("time zone %q is not known", l.Zone))
	}
	if l.Product == nil || len(l.Product.Keys) == 0 {
		out = append(out, "there is no product")
	}
	return out
}

const mostRuns = 5_000_000

// Entries gives what the line did, in order, until it is done or ctx ends. The
// error of a line that cannot be made lists its mistakes.
func (l Line) Entries(ctx context.Context) (<-chan results.Entry, error) {
	if wrong := l.Mistakes(); len(wrong) > 0 {
		return nil, errors.New(oneSentence(wrong))
	}
	out := make(chan results.Entry, 256)
	go func() {
		defer close(out)
		newSimulation(l, func(e results.Entry) bool {
			select {
			case out <- e:
				return true
			case <-ctx.Done():
				return false
			}
		}).work()
	}()
	return out, nil
}

func oneSentence(wrong []string) string {
	text := wrong[0]
	for _, w := range wrong[1:] {
		text += "; " + w
	}
	return text
}

// simulation is the line at work.
type simulation struct {
	Line
	rng       *rand.Rand
	damp      *rand.Rand // of the insulation, so that it moves nothing else
	send      func(results.Entry) bool
	zone      *time.Location
	revisions [2]revision
	stations  [jigs]station
	next      int // of the next serial number
	made      int
	stopped   bool
}

// revision is a product with what is stored of it.
type revision struct {
	*product.Product
	runs.Revision
}

func revisionOf(p *product.Product) revision {
	return revision{p, runs.Revision{Code: p.Code, Title: p.Title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical()}}
}

// station is one jig and the units that wait for it.
type station struct {
	name    string
	clock   time.Time
	waiting []waiting // units to be tested again
	due     int       // units to go until the first of them is taken
}

// waiting is a unit that was tested before.
type waiting struct {
	unit
	judged int
}

func newSimulation(l Line, send func(results.Entry) bool) *simulation {
	zone, _ := time.LoadLocation(l.Zone) // it was looked at
	f := &simulation{Line: l, next: l.Before, rng: rand.New(rand.NewPCG(l.Seed, 1)), damp: rand.New(rand.NewPCG(l.Seed, 2)), send: send, zone: zone}
	if l.Next == nil {
		l.Next = tightened(l.Product)
	}
	f.revisions = [2]revision{revisionOf(l.Product), revisionOf(l.Next)}
	for i := range f.stations {
		f.stations[i] = station{name: jigName(i), clock: l.Begin.Add(time.Duration(i) * l.cycle() / jigs)}
	}
	return f
}

func (l Line) cycle() time.Duration { return cmp.Or(l.Cycle, usualCycle) }

// Within is the cycle with which a line makes so many runs in a time.
func Within(runs int, took time.Duration) time.Duration {
	return took * jigs / time.Duration(max(1, runs))
}

func jigName(i int) string { return fmt.Sprintf("J-%04d", 41+i) }

// tightened is the next revision: a tenth less resistance is allowed.
func tightened(p *product.Product) *product.Product {
	next := *p
	next.Revision = following(p.Revision)
	next.Keys = slices.Clone(p.Keys)
	for i := range next.Keys {
		limit := &next.Keys[i].Limits.ClosedMax
		*limit = quantity.Ohm(float64(*limit) * 0.9)
	}
	return &next
}

// following names the revision after one: C gives D, and anything else gets a mark.
func following(label string) string {
	if len(label) == 1 && label[0] >= 'A' && label[0] < 'Z' {
		return string(label[0] + 1)
	}
	return label + "+1"
}

// work goes round the jigs, always the one whose clock is earliest.
func (f *simulation) work() {
	f.put(f.Begin, results.Entry{Shifts: &floor.ShiftPlan{
		Zone: f.Zone, Shifts: lineShifts, By: "Ines", Reason: "three shifts"}})
	events := newCalendar(f.Line)
	for f.made < f.Runs && !f.stopped {
		b := &f.stations[0]
		for i := range f.stations {
			if f.stations[i].clock.Before(b.clock) {
				b = &f.stations[i]
			}
		}
		for _, e := range events.until(f.made) {
			f.put(b.clock, e)
		}
		f.test(b)
	}
}

func (f *simulation) put(at time.Time, e results.Entry) {
	e.At = at
	f.stopped = f.stopped || !f.send(e)
}

// test takes the next unit through a jig.
func (f *simulation) test(b *station) {
	w := f.take(b)
	run, again := f.run(b, w)
	took := time.Duration(run.Duration) + 6*time.Second + time.Duration(f.rng.IntN(4000))*time.Millisecond
	rev := f.revision().Revision
	f.put(b.clock.Add(time.Duration(run.Duration)), results.Entry{Run: &run, Revision: &rev})
	f.made++
	b.clock = b.clock.Add(max(f.cycle(), took))
	if again {
		if run.Outcome == sequence.Pass || run.Outcome == sequence.Fail {
			w.judged++
		}
		b.waiting, b.due = append(b.waiting, w), 3
		if run.Outcome != sequence.Fail {
			b.due = 0 // seated anew at once
		}
	}
}

func (f *simulation) take(b *station) waiting {
	if len(b.waiting) > 0 && b.due <= 0 {
		w := b.waiting[0]
		b.waiting = b.waiting[1:]
		return w
	}
	b.due--
	f.next++
	return waiting{unit: f.make(b)}
}

// part is how far the line has come, from 0 to 1.
func (f *simulation) part() float64 { return float64(f.made) / float64(f.Runs) }

func (f *simulation) revision() revision {
	if f.part() < tighterFrom {
		return f.revisions[0]
	}
	return f.revisions[1]
}

func (f *simulation) operator(b *station) string {
	local := b.clock.In(f.zone)
	minute := local.Hour()*60 + local.Minute()
	for _, s := range lineShifts {
		in := minute >= s.Begins && minute < s.Ends
		if s.Ends < s.Begins {
			in = minute >= s.Begins || minute < s.Ends
		}
		if in {
			return operators[s.Name][f.index(b)*2/jigs]
		}
	}
	return ""
}

func (f *simulation) index(b *station) int {
	for i := range f.stations {
		if &f.stations[i] == b {
			return i
		}
	}
	return 0
}
