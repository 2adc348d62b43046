package diagnose

import (
	"cmp"
	"math"
	"slices"

	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/polish"
	"padjig/sequence/diagnose/readings"
)

// Diagnose finds what is wrong with a unit, or with the jig, from the readings of a run
// and what checks brought that an earlier diagnosis proposed. It always answers; what it
// cannot explain it says.
func Diagnose(u readings.Unit, looked ...Looked) Diagnosis {
	switch {
	case u.SelfTest == readings.Failed:
		return jigDoubtful()
	case !u.Wrong() && len(u.Keys) > 0:
		return Diagnosis{Probability: 1, Terms: termsOf(&u), Sum: nothingWrong(&u)}
	}
	f := explain(&u)
	d := f.diagnosis()
	d.Terms = termsOf(&u)
	d.update(looked)
	d.Check = chooser{&u, f.model.Nets(), looked}.next(&d)
	d.Sum = d.sum()
	return d
}

// diagnosis names what was found.
func (f found) diagnosis() (d Diagnosis) {
	best := f.best()
	settled := f.settled(best.of)
	slots := f.slots()
	names, account := namingOf(f.unit, f.model), account{f.unit, f.unit.Product, f.model}
	d.Probability = f.probabilities(slots)
	if wide := f.model.Wide(); wide != nil {
		g := Group{Probability: 1, Causes: names.causes(wide, wide, 0), For: account.wide()}
		normalise(g.Causes)
		d.Groups = append(d.Groups, g)
	}
	for i, sl := range slots {
		g := f.group(sl, settled, names)
		g.For, g.Against = account.contributions(settled, f.settled(without(best.of, i)))
		g.WithinLimits = account.withinLimits(&f.cands[sl.of[0]].Fault)
		account.withPattern(&g, &f.cands[sl.of[0]].Fault)
		if _, p, ok := account.pattern(&f.cands[sl.of[0]].Fault); ok {
			d.Patterns = append(d.Patterns, p)
		}
		d.Groups = append(d.Groups, g)
	}
	sortFound(d.Groups)
	d.Found = len(d.Groups)
	for _, sl := range f.rivals(slots) {
		alone := f.settled(sl.of[:1])
		g := f.group(sl, alone, names)
		g.For, g.Against = account.contributions(alone, nil)
		account.withPattern(&g, &f.cands[sl.of[0]].Fault)
		d.Groups = append(d.Groups, g)
	}
	d.Masked = account.masked(settled)
	d.Unexplained = account.unexplained(settled)
	return d
}

// group turns a slot into causes with places and weights.
func (f found) group(sl slot, settled model.Hypothesis, names naming) Group {
	g := Group{Probability: min(sl.probability, 1)}
	for i, c := range sl.of {
		fault := &f.cands[c].Fault
		size := fault
		for j := range settled {
			if settled[j].Same(fault) {
				size = &settled[j]
			}
		}
		g.Causes = append(g.Causes, names.causes(fault, size, sl.likely[i])...)
	}
	normalise(g.Causes)
	return g
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
		return cmp.Or(cmp.Compare(when(a.WithinLimits, 1, 0), when(b.WithinLimits, 1, 0)), cmp.Compare(explains(b), explains(a)))
	})
}

func jigDoubtful() Diagnosis {
	return Diagnosis{
		Groups: []Group{{Probability: 1, Causes: []Cause{{Kind: JigDoubtful, Place: said(AtJig), Weight: 1}}}},
		Found:  1, Probability: 1,
		Check: &Check{Action: AskFixtureEngineer, By: Person, Say: JigDoubtful.Remedy()},
		Sum:   []Said{said(JigMisreads)},
	}
}

// nothingWrong says how much is known of a unit of which nothing wrong was read.
func nothingWrong(u *readings.Unit) []Said {
	tested, unread := 0, 0
	for _, k := range u.Keys {
		if k.State != readings.NotTested {
			tested++
		}
		if k.State == readings.Closed && k.Closed == nil {
			unread++
		}
	}
	code := NothingWrong
	switch {
	case tested > 0 && tested < len(u.Keys):
		code = NothingAsFar
	case !u.Pressed:
		code = NotPressed
	case tested == 0:
		code = NoKeyTested
	}
	sum := []Said{said(code, tested, len(u.Keys))}
	if unread > 0 {
		sum = append(sum, said(Unread, unread))
	}
	return sum
}

// sum is the diagnosis in one line.
func (d *Diagnosis) sum() []Said {
	if _, ok := d.First(); !ok {
		return []Said{said(NoCause)}
	}
	sum := []Said{said(Likeliest)}
	if n := len(d.Groups[0].Causes) - 1; n > 0 {
		sum = append(sum, said(OrOthers, n))
	}
	if d.Found > 1 {
		sum = append(sum, said(AndMore, d.Found-1))
	}
	return append(sum, said(FullStop))
}

// termsOf takes the closed readings of a matrix apart, where most of it has values.
func termsOf(u *readings.Unit) *Terms {
	p := u.Product
	if len(p.Rows) < 2 || len(p.Columns) < 2 {
		return nil
	}
	table := make([][]float64, len(p.Rows))
	values := 0
	for i := range table {
		table[i] = slices.Repeat([]float64{math.NaN()}, len(p.Columns))
	}
	for k, key := range p.Keys {
		r, c := slices.Index(p.Rows, key.A), slices.Index(p.Columns, key.B)
		read := u.Keys[k].Closed
		if r < 0 || c < 0 || read == nil || read.AtLeast {
			continue
		}
		table[r][c] = float64(read.Value)
		values++
	}
	if values < (len(p.Rows)*len(p.Columns)+1)/2 {
		return nil
	}
	return &Terms{polish.ByMedians(table, 0.01, 10), polish.BySquares(table)}
}
