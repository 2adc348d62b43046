package diagnose

import (
	"fmt"
	"math"
	"slices"
)

// Diagnose finds what is wrong with a unit, or with the jig, from the evidence of a run.
// It always answers; what it cannot explain it says.
func Diagnose(e Evidence) Diagnosis {
	switch {
	case e.SelfTest == Failed:
		return jigDoubtful(&e)
	case !e.Wrong() && len(e.Keys) > 0:
		return nothingWrong(&e)
	}
	s := explain(&e)
	d := s.diagnosis()
	d.Terms = termsOf(&e)
	d.update(&e)
	d.Check = s.m.nextCheck(&d)
	d.Sentence = d.say(&e)
	return d
}

// explain searches under each view of what healthy keys of this unit do, and keeps the
// view under which everything together is likeliest.
func explain(e *Evidence) *search {
	m := newModel(e)
	if e.noisy() { // jig health comes first: of such readings nothing else is believed
		return &search{m: m.under(m.trend, fault{effect: jigNoise}), pool: []hypothesis{{}}}
	}
	best := newSearch(m)
	best.run()
	for _, wide := range m.views() {
		other := newSearch(wide)
		other.run()
		if other.total() > best.total() {
			best = other
		}
	}
	best.replaced()
	return best
}

// total is the logarithm of how likely everything is under the best explanation.
func (s *search) total() float64 {
	t := s.m.base.sum() + s.pool[0].score
	if s.m.wide != nil {
		t += math.Log(kinds[s.m.names(s.m.wide)[0].kind].Prior) - wideRange
	}
	return t
}

// wideRange is what the free size of a fault of the whole panel costs.
const wideRange = 4.0

func (s *search) diagnosis() Diagnosis {
	var d Diagnosis
	best := s.pool[0]
	settled := s.settled(best.of)
	slots := s.slots()
	d.Probability = s.probabilities(slots)
	if s.m.wide != nil {
		d.Groups = append(d.Groups, s.wideGroup())
	}
	for i, sl := range slots {
		g := s.group(sl, settled)
		rest := s.settled(slices.Delete(slices.Clone(best.of), i, i+1))
		g.For, g.Against = s.contributions(settled, rest)
		g.WithinLimits = s.m.withinLimits(&s.cands[sl.of[0]].fault)
		d.Groups = append(d.Groups, g)
	}
	sortFound(d.Groups)
	d.Found = len(d.Groups)
	for _, sl := range s.rivals(slots) {
		d.Groups = append(d.Groups, s.rivalGroup(sl))
	}
	d.Masked = s.m.masked(settled)
	d.Unexplained = s.m.unexplained(settled)
	return d
}

// sortFound puts first what broke a limit, and of that what explains most.
func sortFound(groups []Group) {
	explains := func(g Group) (sum float64) {
		for _, c := range g.For {
			sum += c.Nats
		}
		return sum
	}
	slices.SortStableFunc(groups, func(a, b Group) int {
		if a.WithinLimits != b.WithinLimits {
			return compare(when(a.WithinLimits, 1, 0), when(b.WithinLimits, 1, 0))
		}
		return compare(explains(b), explains(a))
	})
}

func (s *search) wideGroup() Group {
	g := Group{Probability: 1}
	for _, n := range s.m.names(s.m.wide) {
		g.Causes = append(g.Causes, s.m.cause(n, s.m.wide, math.Log(n.prior)))
	}
	normalise(g.Causes)
	flat := newModel(s.m.ev)
	before, after := flat.terms(nil), s.m.terms(nil)
	for k := range after.keys {
		if nats := after.keys[k] - before.keys[k]; nats > 0.5 {
			g.For = append(g.For, Contribution{s.m.keyWords(k), nats})
		}
	}
	return g
}

func (s *search) rivalGroup(sl slot) Group {
	settled := s.settled(sl.of[:1])
	g := s.group(sl, settled)
	g.For, g.Against = s.contributions(settled, nil)
	return g
}

func jigDoubtful(e *Evidence) Diagnosis {
	g := Group{Probability: 1, Causes: []Cause{{
		Kind: JigDoubtful, Place: "the jig does not read its own check resistors", Weight: 1,
	}}}
	d := Diagnosis{Groups: []Group{g}, Found: 1, Probability: 1}
	d.Check = &Check{Action: AskFixtureEngineer, By: Person, Say: JigDoubtful.Remedy()}
	d.Sentence = "The jig does not read its own check resistors: nothing can be said of the unit."
	return d
}

func nothingWrong(e *Evidence) Diagnosis {
	d := Diagnosis{Probability: 1, Terms: termsOf(e)}
	tested, unread := 0, 0
	for _, k := range e.Keys {
		if k.State != NotTested {
			tested++
		}
		if k.State == Closed && k.Closed == nil {
			unread++
		}
	}
	d.Sentence = fmt.Sprintf("Nothing wrong was read: %d of %d keys were tested, and every reading is what a good unit gives.",
		tested, len(e.Keys))
	switch {
	case !e.Pressed:
		d.Sentence = "Nothing wrong was read of jig and lines; the keys were joined by the jig and not pressed, so that nothing is known of them."
	case tested == 0:
		d.Sentence = "Nothing wrong was read, but no key was tested: nothing can be said of the unit."
	}
	if tested > 0 && tested < len(e.Keys) {
		d.Sentence = fmt.Sprintf("Nothing wrong was read as far as it was tested: %d of %d keys.", tested, len(e.Keys))
	}
	if unread > 0 {
		d.Sentence += fmt.Sprintf(" Of %d key%s no more was read than that %s: a high resistance would not show.",
			unread, plural(unread), map[bool]string{true: "it closes", false: "they close"}[unread == 1])
	}
	return d
}

// say is the diagnosis in one line.
func (d *Diagnosis) say(e *Evidence) string {
	c, ok := d.First()
	if !ok {
		return "Something is wrong, but no cause that is known explains the readings."
	}
	s := fmt.Sprintf("Likeliest: %v", c)
	if n := len(d.Groups[0].Causes) - 1; n > 0 {
		s += fmt.Sprintf(" (or %d other%s that the readings cannot tell from it)", n, plural(n))
	}
	if d.Found > 1 {
		s += fmt.Sprintf("; and %d more cause%s", d.Found-1, plural(d.Found-1))
	}
	return s + "."
}

// termsOf takes the closed readings of a matrix apart, where most of it has values.
func termsOf(e *Evidence) *Terms {
	p := e.Product
	if len(p.Rows) < 2 || len(p.Columns) < 2 {
		return nil
	}
	table := make([][]float64, len(p.Rows))
	values := 0
	for i := range table {
		for range p.Columns {
			table[i] = append(table[i], math.NaN())
		}
	}
	for k, key := range p.Keys {
		r, c := slices.Index(p.Rows, key.A), slices.Index(p.Columns, key.B)
		read := e.Keys[k].Closed
		if r < 0 || c < 0 || read == nil || read.AtLeast {
			continue
		}
		table[r][c] = float64(read.Value)
		values++
	}
	if values < (len(p.Rows)*len(p.Columns)+1)/2 {
		return nil
	}
	return &Terms{MedianPolish(table, 0.01, 10), LeastSquares(table)}
}
