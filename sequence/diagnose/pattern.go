package diagnose

import (
	"math"
	"slices"

	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/pattern"
	"padjig/sequence/product"
)

// Pattern is what the units before this one say of a place.
type Pattern struct {
	Place Said
	pattern.Counts
	pattern.Odds
}

// Says is what was counted, at which place.
func (p Pattern) Says() []Said {
	if p.ElsewhereOf == 0 {
		return []Said{p.Place, said(ReadAlone, p.Here, p.HereOf)}
	}
	return []Said{p.Place, said(ReadEarlier, p.Here, p.HereOf, p.Elsewhere, p.ElsewhereOf)}
}

// How likely a place fails by itself, as the sum of the kinds there: what the counts of
// the units before are weighed with.
var (
	keyPrior = pattern.Prior{Jig: kinds[ActuatorMisses].Prior, Unit: kinds[ContactDirty].Prior + kinds[ContactWorn].Prior +
		kinds[ContactMissing].Prior + kinds[KeyStuck].Prior + kinds[ContactUnsteady].Prior}
	pinPrior = pattern.Prior{Jig: kinds[ProbeDirty].Prior, Unit: kinds[PinDoubtful].Prior}
)

// likeliestPrior is the most that a pattern can make of a prior.
const likeliestPrior = 0.5

// earlier is what the units before say of the place of a fault; ok is false where nobody
// knows anything that would matter.
func (o origins) earlier(f *model.Fault) (p Pattern, before pattern.Prior, ok bool) {
	e, key, pin := &o.unit.Earlier, keyAt(o.unit.Product, f), pinAt(o.unit.Product, f)
	switch {
	case key >= 0:
		p.Place, p.Counts, before = atKey(o.unit.Product, key), e.Keys[key], keyPrior
	case pin > 0:
		p.Place, p.Counts, before = said(AtSeat, pin), e.Pins[pin], pinPrior
	}
	if !p.Speak() {
		return p, before, false
	}
	p.Odds = before.After(p.Counts)
	return p, before, true
}

// keyAt is the key at which a fault lies, -1 for none. A bridge between a key's two lines
// was found at that key, too.
func keyAt(p *product.Product, f *model.Fault) int {
	switch {
	case f.IsKey():
		return f.Key
	case f.Effect == model.Bridges:
		return slices.IndexFunc(p.Keys, func(k product.Key) bool {
			return min(k.A, k.B) == min(f.Line, f.Mate) && max(k.A, k.B) == max(f.Line, f.Mate)
		})
	}
	return -1
}

// pinAt is the pin of the tail at which a fault lies, 0 for none.
func pinAt(p *product.Product, f *model.Fault) int {
	switch {
	case f.Effect == model.BadSeat:
		return f.Pin
	case f.Effect == model.BadJoin, f.IsSeries() && f.After < 0:
		return p.Lines[f.Line].Pin
	}
	return 0
}

// moved are origins with what the units before make of their priors.
func (o origins) moved(f *model.Fault, out []origin) []origin {
	p, before, ok := o.earlier(f)
	if !ok {
		return out
	}
	for i := range out {
		by := p.Unit / before.Unit
		if kinds[out[i].kind].Jig {
			by = p.Jig / before.Jig
		}
		out[i].prior = min(out[i].prior*by, likeliestPrior)
	}
	return out
}

// pattern is what the units before contribute to a fault, as a reading that speaks for it
// or against it: the fault's prior with them over that without.
func (a account) pattern(f *model.Fault) (c Contribution, p Pattern, ok bool) {
	o := origins{a.unit, a.model}
	p, _, ok = o.earlier(f)
	if !ok {
		return c, p, false
	}
	sum := func(all []origin) (sum float64) {
		for _, one := range all {
			sum += one.prior
		}
		return sum
	}
	without := sum(o.plain(f))
	c = Contribution{p.Says(), math.Log(sum(o.of(f)) / without)}
	return c, p, without > 0
}

// withPattern adds what the units before say of a group's fault to its readings.
func (a account) withPattern(g *Group, f *model.Fault) {
	c, _, ok := a.pattern(f)
	switch {
	case !ok:
	case c.Nats >= 0:
		g.For = append([]Contribution{c}, g.For...)
	default:
		g.Against = append([]Contribution{c}, g.Against...)
	}
}
