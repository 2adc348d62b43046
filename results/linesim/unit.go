package linesim

import (
	"fmt"
	"math"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/product"
)

// unit is a keypad as it was made: what belongs to it at every test.
type unit struct {
	serial string
	factor float64   // of its contacts against nominal
	keys   []float64 // of each key besides
	fault  *fault
}

// fault is what is wrong with a unit.
type fault struct {
	what  string
	key   int
	mends float64 // chance that it is not there the next time
	local bool    // it comes from the jig
}

// common are faults that come up anywhere, with their rates in parts of all units.
var common = []struct {
	fault
	rate float64
}{
	{fault{what: "key open", mends: 0.15}, 0.0025},
	{fault{what: "key high", mends: 0.35}, 0.0040},
	{fault{what: "bounce on make", mends: 0.60}, 0.0030},
	{fault{what: "lines shorted", mends: 0.02}, 0.0010},
	{fault{what: "leak", mends: 0.10}, 0.0008},
	{fault{what: "line open", mends: 0.30}, 0.0007},
}

// make makes the next unit.
func (f *simulation) make(b *station) unit {
	p := f.Product
	u := unit{serial: p.Serial.Complete(f.next), factor: f.spread(0.06), keys: make([]float64, len(p.Keys))}
	if lot := int(f.part() * membraneLots); lot == highLot {
		u.factor *= highBy
	}
	for i := range u.keys {
		u.keys[i] = f.spread(0.08)
	}
	u.fault = f.fault(b)
	return u
}

// spread draws a factor near 1 that is never negative.
func (f *simulation) spread(sd float64) float64 { return math.Exp(sd * f.rng.NormFloat64()) }

func (f *simulation) fault(b *station) *fault {
	keys := len(f.Product.Keys)
	if f.rng.Float64() < allRate {
		return &fault{what: "key open", key: commonKey % keys, mends: 0.1}
	}
	if f.index(b) == localJig && f.rng.Float64() < localRate {
		return &fault{what: "key open", key: localKey % keys, mends: 0.5, local: true}
	}
	draw := f.rng.Float64()
	for _, c := range common {
		if draw -= c.rate; draw < 0 {
			found := c.fault
			found.key = f.rng.IntN(keys)
			return &found
		}
	}
	return nil
}

// How runs end that say nothing of the unit, in parts of all runs, and how
// many failed units are tested again.
const (
	reseatRate     = 0.007
	incompleteRate = 0.0005
	abortedRate    = 0.0005
	retestRate     = 0.8
)

// run tests a unit, and says whether it is to be tested again.
func (f *simulation) run(b *station, w waiting) (run sequence.Run, again bool) {
	rev := f.revision()
	run = sequence.Run{
		Serial: w.serial, Product: rev.Revision.Code, Revision: rev.Label, Hash: rev.Revision.Hash,
		Jig: jigOf(f.index(b)), Simulated: true, Actuation: sequence.Mechanical, Operator: f.operator(b),
		Attempt: w.judged + 1, Started: b.clock, Outcome: sequence.Pass,
	}
	f.steps(&run)
	draw := f.rng.Float64()
	switch {
	case draw < reseatRate:
		f.unjudged(&run, rev.Product, sequence.Reseat, "pin 4 (R4): contact doubtful")
		run.Seats[3].Good = false
		run.Seats[3].Loop.Value += 60
		return run, true
	case draw < reseatRate+incompleteRate:
		f.unjudged(&run, rev.Product, sequence.Incomplete, "key 1 was never pressed")
		return run, true
	case draw < reseatRate+incompleteRate+abortedRate:
		f.unjudged(&run, rev.Product, sequence.Aborted, "the interlock opened")
		return run, true
	}
	f.measure(&run, rev.Product, w)
	f.insulation(&run, rev.Product)
	verdict(&run, rev.Product, w.fault)
	account(&run, rev.Product)
	again = run.Outcome == sequence.Fail && w.judged+1 < rev.Attempts && f.rng.Float64() < retestRate
	return run, again
}

var stepNames = []string{"self-test", "seating", "rest", "keys", "rest again"}
var stepTimes = []int{180, 420, 900, 11000, 700} // ms

func (f *simulation) steps(run *sequence.Run) {
	for i, name := range stepNames {
		took := sequence.Seconds(stepTimes[i]*1000+f.rng.IntN(stepTimes[i]*50)) * sequence.Seconds(time.Microsecond)
		run.Steps = append(run.Steps, sequence.StepDone{Name: name, Done: true, Took: took})
		run.Duration += took
	}
}

// unjudged leaves everything behind the seating undone.
func (f *simulation) unjudged(run *sequence.Run, p *product.Product, outcome sequence.Outcome, why string) {
	run.Outcome, run.Reason = outcome, why
	run.Duration = run.Steps[0].Took + run.Steps[1].Took
	for i := range run.Steps[2:] {
		run.Steps[2+i].Done, run.Steps[2+i].Took = false, 0
	}
	f.seats(run, p)
	defer account(run, p)
	for _, k := range p.Keys {
		run.Keys = append(run.Keys, sequence.KeyResult{
			Key: k.Label, Lines: [2]string{p.Lines[k.A].Name, p.Lines[k.B].Name}, Verdict: sequence.KeyUntested})
	}
}

func (f *simulation) seats(run *sequence.Run, p *product.Product) {
	for i, line := range p.Tail {
		loop := fixture.Resistance{Value: quantity.Ohm(0.4 * f.spread(0.1)), U: 0.03}
		run.Seats = append(run.Seats, sequence.Seat{Pin: i + 1, Line: line, Loop: loop, Good: true})
	}
}

// measure reads every key.
func (f *simulation) measure(run *sequence.Run, p *product.Product, w waiting) {
	f.seats(run, p)
	worn := f.wear(run.Jig.Serial)
	gone := w.fault != nil && w.judged > 0 && f.rng.Float64() < w.fault.mends
	if gone {
		w.fault.what = ""
	}
	for i, k := range p.Keys {
		contact := float64(k.Contact) * w.factor * w.keys[i] * f.spread(0.02)
		if i == wearKey%len(p.Keys) {
			contact *= worn
		}
		closed := fixture.Resistance{Value: quantity.Ohm(contact) + p.Loop(i) - k.Contact, U: quantity.Ohm(0.3 + 0.001*contact)}
		run.Keys = append(run.Keys, sequence.KeyResult{
			Key: k.Label, Lines: [2]string{p.Lines[k.A].Name, p.Lines[k.B].Name}, Verdict: sequence.KeyPass,
			Closed: &closed, Make: f.bounce(1.2), Break: f.bounce(0.8),
		})
	}
}

// wear is by how much the worn actuator's contact reads more.
func (f *simulation) wear(jig string) float64 {
	part := f.part()
	if jig != jigName(wearJig) || part < wearFrom || part >= wearUntil {
		return 1
	}
	return 1 + wearTo*(part-wearFrom)/(wearUntil-wearFrom)
}

func (f *simulation) bounce(ms float64) *fixture.Bounce {
	us := ms * 1000 * f.spread(0.35)
	return &fixture.Bounce{Time: time.Duration(us) * time.Microsecond, Transitions: 1 + int(us/400)}
}

// verdict puts the unit's fault in and holds every reading to its limit.
func verdict(run *sequence.Run, p *product.Product, w *fault) {
	if w != nil && w.what != "" {
		faulty(run, p, *w)
	}
	for i := range run.Keys {
		judgeKey(run, p.Keys[i], i)
	}
	if len(run.Findings) > 0 {
		run.Outcome = sequence.Fail
	}
}

func faulty(run *sequence.Run, p *product.Product, w fault) {
	key, k := p.Keys[w.key], &run.Keys[w.key]
	a, b := p.Lines[key.A], p.Lines[key.B]
	switch w.what {
	case "key open":
		k.Closed, k.Make, k.Break, k.Verdict = &fixture.Resistance{Value: quantity.Open, U: quantity.Open, AtLeast: true}, nil, nil, sequence.KeyFail
		limit := sequence.Number(key.Limits.ClosedMax)
		run.Findings = append(run.Findings, sequence.Finding{What: w.what, Place: placeOf(k), Key: k.Key,
			Lines: k.Lines[:], Pins: []int{a.Pin, b.Pin}, Limit: &limit, Unit: "ohm"})
	case "key high":
		k.Closed.Value = key.Limits.ClosedMax * 1.6
	case "bounce on make":
		k.Make = &fixture.Bounce{Time: key.Limits.Make + 3*time.Millisecond, Transitions: 21}
	case "lines shorted", "leak":
		shorted(run, p, key, w.what)
	case "line open":
		lineOpen(run, p, key.A)
	}
}

func placeOf(k *sequence.KeyResult) string {
	return fmt.Sprintf("key %s (%s-%s)", k.Key, k.Lines[0], k.Lines[1])
}

func shorted(run *sequence.Run, p *product.Product, key product.Key, what string) {
	a, b := p.Lines[key.B], p.Lines[(key.B+1)%len(p.Lines)]
	value, u, limit := sequence.Number(4.2), sequence.Number(0.1), sequence.Number(key.Limits.RestMin)
	if what == "leak" {
		value, u = 2.4e6, 3e4
	}
	ohm := fixture.Resistance{Value: quantity.Ohm(value), U: quantity.Ohm(u)}
	run.Pairs = append(run.Pairs, sequence.Pair{Lines: [2]string{a.Name, b.Name}, Ohm: ohm})
	run.Findings = append(run.Findings, sequence.Finding{What: what, Place: fmt.Sprintf("lines %s and %s", a.Name, b.Name),
		Lines: []string{a.Name, b.Name}, Pins: []int{a.Pin, b.Pin}, Value: &value, U: &u, Limit: &limit, Unit: "ohm"})
}

// lineOpen takes every key of a line away.
func lineOpen(run *sequence.Run, p *product.Product, line int) {
	for i, k := range p.Keys {
		if k.A == line || k.B == line {
			r := &run.Keys[i]
			r.Closed, r.Make, r.Break, r.Verdict = nil, nil, nil, sequence.KeyUntested
		}
	}
	l := p.Lines[line]
	run.Findings = append(run.Findings, sequence.Finding{What: "line open", Lines: []string{l.Name}, Pins: []int{l.Pin},
		Place: fmt.Sprintf("line %s (pin %d)", l.Name, l.Pin)})
}

// judgeKey holds a key to its limits, with the product's guard band.
func judgeKey(run *sequence.Run, key product.Key, i int) {
	k := &run.Keys[i]
	if k.Closed == nil || k.Closed.AtLeast {
		return
	}
	pins := pinsOf(run, k.Lines)
	blame := func(what string, value, u, limit sequence.Number, unit string) {
		k.Verdict = sequence.KeyFail
		run.Findings = append(run.Findings, sequence.Finding{What: what, Place: placeOf(k), Key: k.Key,
			Lines: k.Lines[:], Pins: pins, Value: &value, U: &u, Limit: &limit, Unit: unit})
	}
	l := key.Limits
	guard := quantity.Ohm(2 * l.Guard * float64(k.Closed.U))
	if k.Closed.Value > l.ClosedMax-guard {
		blame("key high", sequence.Number(k.Closed.Value), sequence.Number(k.Closed.U), sequence.Number(l.ClosedMax), "ohm")
	}
	if k.Make.Time > l.Make {
		blame("bounce on make", milliseconds(k.Make.Time), 0, milliseconds(l.Make), "ms")
	}
	if k.Break.Time > l.Break {
		blame("bounce on break", milliseconds(k.Break.Time), 0, milliseconds(l.Break), "ms")
	}
}

func milliseconds(d time.Duration) sequence.Number {
	return sequence.Number(d) / sequence.Number(time.Millisecond)
}

func pinsOf(run *sequence.Run, lines [2]string) []int {
	var pins []int
	for _, s := range run.Seats {
		if s.Line == lines[0] || s.Line == lines[1] {
			pins = append(pins, s.Pin)
		}
	}
	return pins
}
