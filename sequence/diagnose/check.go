package diagnose

import (
	"fmt"
	"math"
	"slices"
	"strings"
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
	Say    string   // what to do, in words
	Bits   float64  // expected information about which cause it is
	// Outcomes are what can come out, in the order of Looked.Outcome.
	Outcomes []Outcome
}

// Outcome is one thing that can come out of a check.
type Outcome struct {
	Says        string
	Probability float64 // expected now
	For         []Kind  // the kinds that it speaks for most
}

// Looked is what came out of a check.
type Looked struct {
	Action  Action
	Key     string
	Lines   []string
	Outcome int    // index into the outcomes of the action
	Says    string // with values
}

// trial is an action with what can come out of it, and how likely that is for each kind;
// a kind that is not listed gives what the last entry says. The numbers are common
// practice without a source, rounded; what matters is which are near 1 and which near 0.
type trial struct {
	action  Action
	by      Doer
	says    []string
	given   map[Kind][]float64
	others  []float64
	applies func(*model, *Cause) bool
	words   func(*Cause) string
}

var shut = []float64{0.005, 0.005, 0.01, 0.98}

var trials = []trial{
	{
		PressAgain, Jig,
		[]string{"closes alike every time", "closes every time, but not alike", "misses some presses", "never closes"},
		map[Kind][]float64{
			ContactDirty: {0.10, 0.75, 0.13, 0.02}, ContactWorn: {0.35, 0.50, 0.13, 0.02},
			ContactMisplaced: {0.75, 0.20, 0.04, 0.01}, DomeCracked: {0.40, 0.35, 0.23, 0.02},
			ActuatorMisses: {0.10, 0.10, 0.20, 0.60}, ContactUnsteady: {0.15, 0.20, 0.60, 0.05},
			KeyPretravelled: {0.50, 0.30, 0.19, 0.01}, PinDoubtful: {0.50, 0.40, 0.07, 0.03},
			ContactMissing: shut, DiodeMissing: shut, LineBroken: shut, LineOpen: shut,
		},
		[]float64{0.85, 0.12, 0.02, 0.01},
		func(m *model, c *Cause) bool { return c.Key != "" && !m.hidden(c.Key) },
		func(c *Cause) string { return fmt.Sprintf("press key %s ten times and compare what it reads", c.Key) },
	},
	{
		PressJoined, Jig,
		[]string{"reads less while the key is held", "reads the same", "is open now"},
		map[Kind][]float64{
			KeyStuck: {0.01, 0.89, 0.10}, DomeInverted: {0.01, 0.89, 0.10}, ActuatorHolds: {0.01, 0.91, 0.08},
			CrossingShorted: {0.95, 0.03, 0.02}, SilverBridge: {0.85, 0.05, 0.10},
		},
		[]float64{0.90, 0.05, 0.05},
		func(m *model, c *Cause) bool { return c.Key != "" && m.hidden(c.Key) },
		func(c *Cause) string {
			return fmt.Sprintf("read the lines of key %s at rest and with the key held: a contact that is closed already reads the same, a short less",
				c.Key)
		},
	},
	{
		WatchPair, Jig,
		[]string{"falls while it is watched", "stays", "rises while it is watched", "is gone"},
		map[Kind][]float64{
			SilverGrowing: {0.70, 0.20, 0.03, 0.07}, HumidityFilm: {0.05, 0.35, 0.58, 0.02},
			LiquidInside: {0.20, 0.20, 0.55, 0.05}, SilverBridge: {0.15, 0.40, 0.05, 0.40},
		},
		[]float64{0.01, 0.97, 0.01, 0.01},
		func(_ *model, c *Cause) bool { return c.Key == "" && len(c.Lines) == 2 && bridging(c.Kind) },
		func(c *Cause) string {
			return fmt.Sprintf("watch %s and %s under voltage in both polarities, the smallest current first", c.Lines[0], c.Lines[1])
		},
	},
	{
		HoldKey, Jig,
		[]string{"drops out while held", "holds"},
		map[Kind][]float64{
			ContactUnsteady: {0.85, 0.15}, KeyPretravelled: {0.30, 0.70}, DomeCracked: {0.20, 0.80}, ContactDirty: {0.25, 0.75},
		},
		[]float64{0.02, 0.98},
		func(m *model, c *Cause) bool {
			return c.Key != "" && !m.hidden(c.Key) && m.ev.Keys[m.ev.Product.Key(c.Key)].State == Closed
		},
		func(c *Cause) string { return fmt.Sprintf("hold key %s and watch for dropouts", c.Key) },
	},
	{
		ReadLoops, Jig,
		[]string{"channels beyond the tail are touched", "the same pins as before", "all pins are good now"},
		map[Kind][]float64{TailShifted: {0.95, 0.04, 0.01}, PinDoubtful: {0.01, 0.50, 0.49}},
		[]float64{0.01, 0.80, 0.19},
		func(m *model, c *Cause) bool { return m.badSeats() && (c.Kind == TailShifted || c.Kind == PinDoubtful) },
		func(*Cause) string { return "read the loops of all channels again, and of two beyond the tail" },
	},
	{
		Reseat, Person,
		[]string{"reads the same", "reads otherwise"},
		map[Kind][]float64{
			PinDoubtful: {0.30, 0.70}, ProbeDirty: {0.60, 0.40}, TailShifted: {0.02, 0.98}, TailReversed: {0.02, 0.98},
			ActuatorMisses: {0.90, 0.10},
		},
		[]float64{0.98, 0.02},
		func(*model, *Cause) bool { return true },
		func(*Cause) string { return "reseat the unit and test it again" },
	},
	{
		TryReference, Person,
		[]string{"the reference unit shows the same", "the reference unit is good"},
		map[Kind][]float64{
			ActuatorMisses: {0.97, 0.03}, ActuatorHolds: {0.97, 0.03}, ProbeDirty: {0.97, 0.03}, JigNoisy: {0.95, 0.05},
		},
		[]float64{0.01, 0.99},
		func(*model, *Cause) bool { return true },
		func(*Cause) string { return "test the reference unit on this jig" },
	},
	{
		MoveTail, Person,
		[]string{"the reading changes", "the reading stays"},
		map[Kind][]float64{
			LineCracked: {0.80, 0.20}, TailCreased: {0.80, 0.20}, PinDoubtful: {0.60, 0.40}, ProbeDirty: {0.30, 0.70}, LineOpen: {0.30, 0.70},
		},
		[]float64{0.03, 0.97},
		func(_ *model, c *Cause) bool {
			return c.Kind == LineCracked || c.Kind == TailCreased || c.Kind == LineOpen
		},
		func(c *Cause) string {
			return fmt.Sprintf("move the tail gently while a key on %s is held, and watch the ohms", strings.Join(c.Lines, ", "))
		},
	},
}

// bridging are the kinds that join two lines away from keys.
func bridging(k Kind) bool {
	return slices.Contains([]Kind{
		SilverGrowing, SilverBridge, HumidityFilm, LiquidInside, LinesShorted, PrintSmeared, CrossingShorted, ShieldShorted,
	}, k)
}

func (m *model) hidden(label string) bool {
	k := m.ev.Product.Key(label)
	return k >= 0 && m.nets.same(m.ev.Product.Keys[k].A, m.ev.Product.Keys[k].B)
}

// badSeats reports whether any pin had no sure contact.
func (m *model) badSeats() bool {
	return slices.ContainsFunc(m.ev.Seats, func(s Seat) bool { return !s.Good && m.ev.Product.Tail[s.Pin-1] != "" })
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

// nextCheck chooses what would tell most: among what the jig can do, if that is worth it;
// then among what a person can do without opening the unit; else a look at the place.
func (m *model) nextCheck(d *Diagnosis) *Check {
	first, ok := d.First()
	if !ok {
		return nil
	}
	for _, by := range []Doer{Jig, Person} {
		if c := m.bestCheck(d, by); c != nil && c.Bits >= enoughBits {
			return c
		}
	}
	return &Check{Action: LookInside, By: Person, Key: first.Key, Lines: first.Lines, Say: first.Kind.Remedy()}
}

func (m *model) bestCheck(d *Diagnosis, by Doer) (best *Check) {
	causes := d.weighed()
	for i := range trials {
		t := &trials[i]
		if t.by != by {
			continue
		}
		for j := range causes {
			c := &causes[j]
			if !t.applies(m, c) || m.done(t, c) {
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
func (m *model) done(t *trial, c *Cause) bool {
	return slices.ContainsFunc(m.ev.Looked, func(l Looked) bool { return l.Action == t.action && l.concerns(c) })
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
	check := &Check{Action: t.action, By: t.by, Key: c.Key, Lines: c.Lines, Say: t.words(c)}
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
		check.Outcomes = append(check.Outcomes, Outcome{says, mean[o], t.speaksFor(o, causes, &at)})
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

// update takes the results of checks into the weights of causes and the probabilities of
// groups, by Bayes's rule.
func (d *Diagnosis) update(e *Evidence) {
	for _, l := range e.Looked {
		i := slices.IndexFunc(trials, func(t trial) bool { return t.action == l.Action })
		if i < 0 || l.Outcome < 0 || l.Outcome >= len(trials[i].says) {
			continue
		}
		d.take(&trials[i], &l)
	}
	if len(e.Looked) > 0 {
		d.rerank()
	}
}

func (d *Diagnosis) take(t *trial, l *Looked) {
	fit := make([]float64, len(d.Groups))
	concerned := make([]bool, len(d.Groups))
	for i := range d.Groups {
		fit[i], concerned[i] = d.Groups[i].take(t, l)
	}
	for i := range d.Groups {
		if concerned[i] {
			d.Groups[i].outcome(fit[i], d.against(i, fit, concerned, t.others[l.Outcome]), l.Says)
		}
	}
}

// against is how likely an outcome is if group i is not there: what its competitors make
// of it. Those of the explanation do not compete with each other but with the rivals.
func (d *Diagnosis) against(i int, fit []float64, concerned []bool, otherwise float64) float64 {
	var sum, weights float64
	for j := range d.Groups {
		if concerned[j] && (i < d.Found) != (j < d.Found) {
			sum += d.Groups[j].Probability * fit[j]
			weights += d.Groups[j].Probability
		}
	}
	if weights == 0 {
		return otherwise
	}
	return sum / weights
}

// outcome moves the probability of a group by an outcome that it makes as likely as fit,
// and its competitors as likely as other.
func (g *Group) outcome(fit, other float64, says string) {
	yes, no := g.Probability*fit, (1-g.Probability)*other
	if yes+no > 0 {
		g.Probability = yes / (yes + no)
	}
	c := Contribution{says, math.Log(max(fit, 1e-6) / max(other, 1e-6))}
	if c.Nats >= 0 {
		g.For = append(g.For, c)
	} else {
		g.Against = append(g.Against, c)
	}
}

// take weighs the causes of a group by an outcome and gives how likely the group made it.
func (g *Group) take(t *trial, l *Looked) (fit float64, concerned bool) {
	for i := range g.Causes {
		if c := &g.Causes[i]; l.concerns(c) {
			concerned = true
			c.Weight *= t.gives(c.Kind)[l.Outcome]
		}
		fit += g.Causes[i].Weight
	}
	if !concerned || fit <= 0 {
		return fit, concerned
	}
	for i := range g.Causes {
		g.Causes[i].Weight /= fit
	}
	slices.SortStableFunc(g.Causes, func(a, b Cause) int { return compare(b.Weight, a.Weight) })
	return fit, true
}

// rerank sorts groups by what is likely now.
func (d *Diagnosis) rerank() {
	slices.SortStableFunc(d.Groups, func(a, b Group) int { return compare(b.Probability, a.Probability) })
}
