// Package evidence is what a run gives a diagnosis to go by.
package evidence

import (
	"fmt"
	"slices"
	"time"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/judge"
	"padjig/sequence/nets"
	"padjig/sequence/product"
)

// Of turns a run over a unit of p, fresh or loaded from the records, into what a
// diagnosis is made of. What a run does not list was in order: a pair of lines that is
// not there is above its limit. The error says that run and product do not belong
// together.
func Of(run sequence.Run, p *product.Product) (readings.Unit, error) {
	e := readings.Unit{
		Product: p, Closure: judge.ClosureOf(p), Pressed: run.Actuation != sequence.Electrical,
		SelfTest: selfTestOf(run), Rested: stepOf(run, "rest"),
		Keys: make([]readings.Key, len(p.Keys)),
	}
	if err := belongs(run, p); err != nil {
		return e, err
	}
	if run.Purpose == sequence.FirstPress {
		e.Doubt = judge.StillReads / 2
	}
	w := builder{run: run, product: p, evidence: &e, said: map[string]map[string]bool{}}
	w.findings()
	w.seats()
	w.pairs()
	w.joined = e.Nets()
	for k := range run.Keys {
		e.Keys[k] = w.key(k)
		if w.said[run.Keys[k].Key]["join reads wrong"] {
			e.Joins = append(e.Joins, k)
		}
	}
	return e, nil
}

// belongs checks that a run is about the keys and lines of p.
func belongs(run sequence.Run, p *product.Product) error {
	if len(run.Keys) != len(p.Keys) {
		return fmt.Errorf("the run is about %d keys of %s, the product file %s has %d", len(run.Keys), run.Product, p.Code, len(p.Keys))
	}
	for k, key := range run.Keys {
		own := p.Keys[k]
		if key.Key != own.Label || key.Lines != [2]string{p.Lines[own.A].Name, p.Lines[own.B].Name} {
			return fmt.Errorf("key %d of the run is %s (%s-%s), in the product file it is key %s (%s-%s)", k+1, key.Key, key.Lines[0], key.Lines[1],
				own.Label, p.Lines[own.A].Name, p.Lines[own.B].Name)
		}
	}
	return nil
}

func stepOf(run sequence.Run, name string) readings.Step {
	for _, s := range run.Steps {
		if s.Name == name && s.Done {
			return readings.Done
		}
	}
	return readings.NotDone
}

func selfTestOf(run sequence.Run) readings.Step {
	if run.Outcome == sequence.Aborted && slices.Contains(sequence.SelfTestFaults(), run.Why.Code) {
		return readings.Failed
	}
	return stepOf(run, "self-test")
}

// builder makes the evidence of a run.
type builder struct {
	run      sequence.Run
	product  *product.Product
	evidence *readings.Unit
	said     map[string]map[string]bool // by key: what findings say of it
	joined   *nets.Nets                 // lines connected at rest
}

// findings notes what the findings say that no reading does.
func (w *builder) findings() {
	for _, f := range w.run.Findings {
		if w.said[f.Key] == nil {
			w.said[f.Key] = map[string]bool{}
		}
		w.said[f.Key][f.What] = true
		if f.Says(sequence.Gone) && (f.What == "leak" || f.What == "second contact") {
			w.evidence.Gone = true
		}
	}
}

func (w *builder) seats() {
	for _, s := range w.run.Seats {
		w.evidence.Seats = append(w.evidence.Seats, readings.Seat{Pin: s.Pin, Loop: Reading(s.Loop), Good: s.Good})
	}
}

func (w *builder) pairs() {
	for _, p := range w.run.Pairs {
		lines := [2]int{w.product.Line(p.Lines[0]), w.product.Line(p.Lines[1])}
		if lines[0] < 0 || lines[1] < 0 {
			continue
		}
		if k := w.product.Key(p.While); p.While != "" && k >= 0 {
			w.evidence.Held = append(w.evidence.Held, readings.Held{Key: k, Lines: lines, Ohm: Reading(p.Ohm)})
			continue
		}
		f := w.about(p)
		w.evidence.Rest = append(w.evidence.Rest, readings.Pair{
			Lines: lines, Ohm: Reading(p.Ohm),
			Forward: maybe(p.Forward), Backward: maybe(p.Backward), Trend: Trend(p.Trend),
			Gone:  f.Says(sequence.GoneAgain),
			Again: f.What == "key stays closed" || f.Says(sequence.OnlyAfter),
		})
	}
}

// Trend is how a leak behaved, as a diagnosis has it.
func Trend(t sequence.Trend) readings.Trend {
	switch t {
	case sequence.Steady:
		return readings.Steady
	case sequence.Rising:
		return readings.Rising
	case sequence.Falling:
		return readings.Falling
	}
	return readings.Unwatched
}

// about is the finding about a pair at rest, empty if there is none.
func (w *builder) about(p sequence.Pair) sequence.Finding {
	for _, f := range w.run.Findings {
		if len(f.Lines) == 2 && [2]string{f.Lines[0], f.Lines[1]} == p.Lines && ofRest(f.What) {
			return f
		}
	}
	return sequence.Finding{}
}

// ofRest reports whether a finding is about a pair at rest.
func ofRest(what string) bool {
	return slices.Contains([]string{"leak", "lines shorted", "key closed at rest", "key stays closed"}, what)
}

// key says what was read at a key. Only keys that were pressed say something of themselves.
func (w *builder) key(k int) readings.Key {
	read := w.run.Keys[k]
	key := readings.Key{State: w.state(k)}
	if key.State == readings.NotTested {
		if w.evidence.Pressed && read.Verdict == sequence.KeyUntested {
			key.Closed = maybe(read.Closed) // within its guard band
		}
		return key
	}
	said := w.said[read.Key]
	limits := w.product.Keys[k].Limits
	key.Closed, key.Reverse = maybe(read.Closed), maybe(read.Reverse)
	if read.Forward != nil {
		key.Forward = &readings.Forward{Value: read.Forward.Value, U: read.Forward.U}
	}
	key.Make = bounceOf(read.Make, said["bounce on make"], limits.Make)
	key.Break = bounceOf(read.Break, said["bounce on break"], limits.Break)
	key.Late = said["releases late"] || said["sticks"]
	key.Teases = said["teases"]
	key.Unsteady = said["contact unsteady"] || said["misses"] || said["drops out"]
	key.Ghost = said["ghost key"]
	key.Stray = said["second contact"] && w.run.Purpose == sequence.FirstPress
	key.Alone = w.run.Outcome != sequence.Aborted && limits.RestMin > 0 && !key.Stray
	return key
}

func (w *builder) state(k int) readings.KeyState {
	read, said := w.run.Keys[k], w.said[w.run.Keys[k].Key]
	switch {
	case !w.evidence.Pressed, read.Verdict == sequence.KeyUntested:
		return readings.NotTested
	case said["diode reversed"]:
		return readings.Reversed
	case read.Closed != nil, said["teases"], said["contact unsteady"], w.closedBehindDiode(k):
		return readings.Closed
	case said["diode drop"]:
		return readings.NoLaw
	case read.Verdict == sequence.KeyPass, said["key closed at rest"], said["key stays closed"], w.joined.Same(w.product.Keys[k].A, w.product.Keys[k].B):
		return readings.NotTested
	}
	return readings.Open
}

// closedBehindDiode reports whether a key closed of which a first press reads no more
// than that: it passed, or how it closed was seen.
func (w *builder) closedBehindDiode(k int) bool {
	read := w.run.Keys[k]
	return w.run.Purpose == sequence.FirstPress && w.product.Keys[k].Diode != product.NoDiode &&
		(read.Verdict == sequence.KeyPass || read.Make != nil)
}

// bounceOf takes for too long what was said to be, or what is beyond the limit: of a key
// that teases nobody says it.
func bounceOf(b *fixture.Bounce, long bool, limit time.Duration) readings.Bounce {
	switch {
	case long, b != nil && b.Time > limit:
		return readings.Long
	case b != nil:
		return readings.Short
	}
	return readings.NotSeen
}

// Reading is a resistance as a diagnosis has it.
func Reading(r fixture.Resistance) readings.Reading {
	return readings.Reading{Value: max(r.Value, 0), U: r.U, AtLeast: r.AtLeast}
}

func maybe(r *fixture.Resistance) *readings.Reading {
	if r == nil {
		return nil
	}
	return new(Reading(*r))
}

// Diagnose says what the readings of a run point to by themselves.
func Diagnose(run sequence.Run, p *product.Product, known ...*product.Product) (diagnose.Diagnosis, error) {
	e, err := Of(run, p)
	if err != nil {
		return diagnose.Diagnosis{}, err
	}
	e.Known = known
	return diagnose.Diagnose(e), nil
}

// DiagnoseAfter is [Diagnose] with what the units before failed with.
func DiagnoseAfter(run sequence.Run, p *product.Product, earlier readings.Earlier) (diagnose.Diagnosis, error) {
	e, err := Of(run, p)
	if err != nil {
		return diagnose.Diagnosis{}, err
	}
	e.Earlier = earlier
	return diagnose.Diagnose(e), nil
}
