package diagnose

import (
	"math"
	"slices"

	"padjig/sequence/diagnose/readings"
	"padjig/sequence/nets"
)

// Action is what a check does.
type Action string

// The actions. The first five a jig can do at once, the others a person.
const (
	PressAgain         Action = "press again"   // the key, several times
	PressJoined        Action = "press joined"  // read its lines at rest, then with the key held
	WatchPair          Action = "watch pair"    // two lines under voltage for a while
	HoldKey            Action = "hold key"      // and watch for dropouts
	ReadLoops          Action = "read loops"    // of all channels, those beyond the tail too
	Reseat             Action = "reseat"        // and test again
	TryReference       Action = "try reference" // the reference unit in the same place
	MoveTail           Action = "move tail"     // while the keys of a line are read
	LookInside         Action = "look"          // at the place
	AskFixtureEngineer Action = "fixture engineer"
)

// Doer is who does a check.
type Doer string

// The doers.
const (
	Jig    Doer = "jig"
	Person Doer = "person"
)

// Check is something to do next that would tell causes apart.
type Check struct {
	Action Action
	By     Doer
	Key    string   // label of the key concerned, empty where there is none
	Lines  []string // lines concerned
	Times  int      // of presses
	Say    Said     // what to do
	Bits   float64  // expected information about which cause it is
	// Outcomes are what can come out, in the order of Looked.Outcome.
	Outcomes []Outcome
}

// Outcome is one thing that can come out of a check.
type Outcome struct {
	Says        Said
	Probability float64 // expected now
	For         []Kind  // the kinds that it speaks for most
}

// Looked is what came out of a check.
type Looked struct {
	Action  Action
	Key     string
	Lines   []string
	Outcome int  // index into the outcomes of the action
	Says    Said // with values
}

// gives is how likely each outcome is when kind is the cause.
func (t *trial) gives(kind Kind) []float64 {
	if p, ok := t.given[kind]; ok {
		return p
	}
	return t.others
}

// enoughBits is the least information worth the effort of a check.
const enoughBits = 0.05

// chooser chooses what to do next on a unit.
type chooser struct {
	unit   *readings.Unit
	nets   *nets.Nets
	looked []Looked // what was done already
}

// next chooses what would tell most: among what the jig can do, if that is worth it; then
// among what a person can do without opening the unit; else a look at the place.
func (w chooser) next(d *Diagnosis) *Check {
	first, ok := d.First()
	if !ok {
		return nil
	}
	for _, by := range []Doer{Jig, Person} {
		if c := w.best(d.weighed(), by); c != nil && c.Bits >= enoughBits {
			return c
		}
	}
	return &Check{Action: LookInside, By: Person, Key: first.Key, Lines: first.Lines, Say: first.Kind.Remedy()}
}

func (w chooser) best(causes []Cause, by Doer) (best *Check) {
	for i := range trials {
		t := &trials[i]
		if t.by != by {
			continue
		}
		for j := range causes {
			c := &causes[j]
			if !t.applies(w, c) || w.done(t, c) {
				continue
			}
			if check := t.check(c, causes); best == nil || check.Bits > best.Bits+1e-9 {
				best = check
			}
		}
	}
	return best
}

// done reports whether a check was made already.
func (w chooser) done(t *trial, c *Cause) bool {
	return slices.ContainsFunc(w.looked, func(l Looked) bool { return l.Action == t.action && l.concerns(c) })
}

// presses reports whether a cause is about a key that can be pressed: its lines are not
// joined at rest.
func (w chooser) presses(c *Cause) bool { return c.Key != "" && !w.hidden(c) }

// hidden reports whether a cause is about a key whose lines are joined at rest.
func (w chooser) hidden(c *Cause) bool {
	k := w.unit.Product.Key(c.Key)
	return c.Key != "" && k >= 0 && w.nets.Same(w.unit.Product.Keys[k].A, w.unit.Product.Keys[k].B)
}

// badSeats reports whether any pin had no sure contact.
func (w chooser) badSeats() bool {
	return slices.ContainsFunc(w.unit.Seats, func(s readings.Seat) bool { return !s.Good && w.unit.Product.Tail[s.Pin-1] != "" })
}

// weighed are the causes of all groups, each with its probability as weight, those of
// one group competing with each other and with the groups that remain as rivals.
func (d *Diagnosis) weighed() []Cause {
	var all []Cause
	for _, g := range d.Groups {
		for _, c := range g.Causes {
			c.Weight *= g.Probability
			all = append(all, c)
		}
	}
	return all
}

// check is the trial at the place of a cause, with its expected information about the
// causes that it concerns.
func (t *trial) check(c *Cause, causes []Cause) *Check {
	at := Looked{Action: t.action, Key: c.Key, Lines: c.Lines}
	mean := make([]float64, len(t.says))
	inside, sum := 0.0, 0.0
	for i := range causes {
		if !at.concerns(&causes[i]) {
			continue
		}
		p := t.gives(causes[i].Kind)
		inside += causes[i].Weight * entropy(p)
		for o := range mean {
			mean[o] += causes[i].Weight * p[o]
		}
		sum += causes[i].Weight
	}
	check := &Check{Action: t.action, By: t.by, Key: c.Key, Lines: c.Lines, Say: said("check."+Code(t.action), t.args(c)...)}
	if t.action == PressAgain {
		check.Times = 10
	}
	if !t.local() {
		check.Key, check.Lines = "", nil
	}
	if sum > 0 {
		for o := range mean {
			mean[o] /= sum
		}
		check.Bits = max(sum*entropy(mean)-inside, 0)
	}
	for o, says := range t.says {
		check.Outcomes = append(check.Outcomes, Outcome{said(says), mean[o], t.speaksFor(o, causes, &at)})
	}
	return check
}

// local reports whether the trial is about one key or pair of lines.
func (t *trial) local() bool {
	return !slices.Contains([]Action{ReadLoops, Reseat, TryReference}, t.action)
}

// concerns reports whether a cause is about the place of a check.
func (l *Looked) concerns(c *Cause) bool {
	switch l.Action {
	case ReadLoops, Reseat, TryReference:
		return true
	case MoveTail:
		return slices.ContainsFunc(c.Lines, func(line string) bool { return slices.Contains(l.Lines, line) })
	}
	if l.Key != "" {
		// A fault of a line that ends at one key is about that key too.
		return c.Key == l.Key || c.Key == "" && slices.ContainsFunc(c.Lines, func(line string) bool { return slices.Contains(l.Lines, line) })
	}
	return len(c.Lines) == 2 && slices.Contains(l.Lines, c.Lines[0]) && slices.Contains(l.Lines, c.Lines[1])
}

func (t *trial) speaksFor(o int, causes []Cause, at *Looked) []Kind {
	best, out := 0.0, []Kind(nil)
	for i := range causes {
		if at.concerns(&causes[i]) {
			best = max(best, t.gives(causes[i].Kind)[o])
		}
	}
	for i := range causes {
		if at.concerns(&causes[i]) && t.gives(causes[i].Kind)[o] > 0.7*best && !slices.Contains(out, causes[i].Kind) {
			out = append(out, causes[i].Kind)
		}
	}
	return out
}

func entropy(p []float64) (bits float64) {
	for _, x := range p {
		if x > 0 {
			bits -= x * math.Log2(x)
		}
	}
	return bits
}
