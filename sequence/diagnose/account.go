package diagnose

import (
	"cmp"
	"math"
	"slices"

	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/product"
)

// account says what readings have to do with an explanation.
type account struct {
	unit    *readings.Unit
	product *product.Product
	model   *model.Model
}

// contributions says reading by reading what a group does to the likelihood: what the
// best explanation loses when the group is taken out of it.
func (a account) contributions(with, without model.Hypothesis) (pro, con []Contribution) {
	is, was := a.model.Scores(with), a.model.Scores(without)
	for sort := range is {
		for i := range is[sort] {
			c := Contribution{a.reading(model.Sort(sort), i), is[sort][i] - was[sort][i]}
			switch {
			case c.Nats > leastNats:
				pro = append(pro, c)
			case c.Nats < -leastNats:
				con = append(con, c)
			}
		}
	}
	bySize := func(x, y Contribution) int { return cmp.Compare(math.Abs(y.Nats), math.Abs(x.Nats)) }
	slices.SortStableFunc(pro, bySize)
	slices.SortStableFunc(con, bySize)
	return pro, con
}

// leastNats is from what on a reading says anything.
const leastNats = 0.5

// wide are the keys that a fault of the whole panel explains, as against none such.
func (a account) wide() (pro []Contribution) {
	is, was := a.model.Scores(nil), model.New(a.unit).Scores(nil)
	for k := range is[model.Keys] {
		if nats := is[model.Keys][k] - was[model.Keys][k]; nats > leastNats {
			pro = append(pro, Contribution{a.reading(model.Keys, k), nats})
		}
	}
	return pro
}

// unexplained lists the readings that stay a surprise under the best explanation.
func (a account) unexplained(h model.Hypothesis) (out []Contribution) {
	add := func(what []Said, nats float64) {
		if nats <= -telling {
			out = append(out, Contribution{what, nats})
		}
	}
	scores := a.model.Scores(h)
	for sort := model.Keys; sort < model.Whole; sort++ {
		for i, nats := range scores[sort] {
			add(a.reading(sort, i), nats)
		}
	}
	for _, k := range a.unit.Joins {
		add([]Said{atKey(a.product, k), said(ReadUnjoined)}, a.model.Join(k, h))
	}
	return out
}

// reading says which reading it is, and its value.
func (a account) reading(sort model.Sort, i int) []Said {
	p := a.product
	switch sort {
	case model.Keys:
		return append([]Said{atKey(p, i)}, keySays(&a.unit.Keys[i])...)
	case model.Rest:
		pair := &a.unit.Rest[i]
		return []Said{saidOf(ReadRest, ReadRestOver, pair.Ohm, lineArgs(p, pair.Lines[0], pair.Lines[1])...)}
	case model.Seats:
		return []Said{saidOf(ReadLoop, ReadLoopOver, a.unit.Seats[i].Loop, a.unit.Seats[i].Pin)}
	case model.Held:
		held := &a.unit.Held[i]
		return []Said{said(ReadHeld, append(lineArgs(p, held.Lines[0], held.Lines[1]), keyArgs(p, held.Key)...)...)}
	}
	if len(a.unit.Joins) > 0 {
		return []Said{said(ReadJoins)}
	}
	return []Said{said(ReadGone)}
}

// keySays is how a key answered.
func keySays(key *readings.Key) (says []Said) {
	say := func(is bool, code Code) {
		if is {
			says = append(says, said(code))
		}
	}
	say(key.State == readings.Open, ReadOpen)
	say(key.State == readings.Reversed, ReadReversed)
	say(key.State == readings.NoLaw, ReadNoLaw)
	if key.State == readings.Closed && key.Closed != nil {
		says = append(says, saidOf(ReadClosed, ReadOver, *key.Closed))
	}
	say(key.Late, ReadLate)
	say(key.Teases, ReadTeases)
	say(key.Unsteady, ReadUnsteady)
	say(key.Make == readings.Long, ReadMake)
	say(key.Break == readings.Long, ReadBreak)
	say(key.Ghost, ReadGhost)
	return says
}

// masked lists what could not be tested because of something else that is wrong.
func (a account) masked(h model.Hypothesis) (out []Masked) {
	for k, key := range a.product.Keys {
		if by := a.maskedBy(k, h); by.Code != "" {
			out = append(out, Masked{What: atKey(a.product, k), Key: key.Label, By: by})
		}
	}
	return out
}

func (a account) maskedBy(k int, h model.Hypothesis) Said {
	key := &a.product.Keys[k]
	if a.model.Nets().Same(key.A, key.B) {
		return said(MaskedAtRest, lineArgs(a.product, key.A, key.B)...)
	}
	for i := range h {
		f := &h[i]
		behind := f.IsSeries() && slices.Contains(a.model.Beyond(f), k)
		switch {
		case behind && f.Effect == model.OpenLine:
			return said(MaskedByBreak, a.product.Lines[f.Line].Name)
		case behind && a.unit.Keys[k].Closed != nil && f.U > a.model.Healthy(k).Contact/2:
			return said(MaskedByCrack, a.product.Lines[f.Line].Name)
		case f.Effect == model.WiringSwap && !f.Layout.Own(a.product, k):
			return said(MaskedBySwap)
		}
	}
	if a.unit.Keys[k].State == readings.NotTested {
		return said(MaskedMissed)
	}
	return Said{}
}

// withinLimits reports whether nothing that a fault explains exceeds a limit.
func (a account) withinLimits(f *model.Fault) bool {
	switch {
	case f.IsSeries():
		return !slices.ContainsFunc(a.model.Beyond(f), a.unit.KeyWrong)
	case f.Effect == model.OtherContact:
		return !a.unit.KeyWrong(f.Key)
	}
	return false
}
