package diagnose

import (
	"cmp"
	"math"
	"slices"

	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/readings"
)

// found is what a search brought: sets of candidates under one view of what healthy keys
// of the unit do, the likeliest first.
type found struct {
	unit  *readings.Unit
	model *model.Model
	cands []candidate
	pool  []hypothesis
}

// explain searches under each view of what healthy keys of this unit do, and keeps the
// view under which everything together is likeliest.
func explain(u *readings.Unit) found {
	m := model.New(u)
	if u.Noisy() { // jig health comes first: of such readings nothing else is believed
		return found{unit: u, model: m.Noisy(), pool: []hypothesis{{}}}
	}
	searched := func(m *model.Model) *search {
		s := newSearch(m, suspectsOf(u, m).candidates())
		s.run()
		return s
	}
	best := searched(m)
	for _, wide := range m.Views() {
		if other := searched(wide); other.total() > best.total() {
			best = other
		}
	}
	best.replaced()
	return found{u, best.model, best.cands, best.pool}
}

func (f found) best() hypothesis { return f.pool[0] }

// settled are the members of a set with their magnitudes as the readings have them.
func (f found) settled(of []int) model.Hypothesis {
	h := faultsOf(f.cands, of).Flat()
	f.model.Settle(h)
	return h
}

// weights are the posterior probabilities of the pool.
func (f found) weights() []float64 {
	w := make([]float64, len(f.pool))
	sum := 0.0
	for i, h := range f.pool {
		w[i] = math.Exp(h.score - f.pool[0].score)
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

// slot is one member of the best explanation and the candidates that could stand in its
// place without any reading changing.
type slot struct {
	of          []int     // candidates, the member itself first
	likely      []float64 // how likely the evidence is with each of them
	probability float64
}

// near is how far apart, in nats, two explanations that predict the same may lie by what
// their magnitudes are worth and still count as not told apart.
const near = 3.0

// slots finds the stand-ins for each member of the best explanation: what takes its place,
// or that of another stand-in, in an explanation that predicts the same.
func (f found) slots() []slot {
	best := f.best()
	slots := make([]slot, len(best.of))
	for i, member := range best.of {
		slots[i] = slot{of: []int{member}, likely: []float64{best.gain}}
	}
	alike := f.likeBest()
	for grown := true; grown; {
		grown = false
		for _, h := range alike {
			if at, other := stranger(slots, h.of); at >= 0 {
				slots[at].of, slots[at].likely = append(slots[at].of, other), append(slots[at].likely, h.gain)
				grown = true
			}
		}
	}
	return slots
}

// farBelow is by how many nats an explanation may lie below the best one, by its prior,
// and still be worth naming beside it; mostAlike is how many are named.
const (
	farBelow  = 8.0
	mostAlike = 400
)

// likeBest are the explanations of as many faults as the best one that no reading can
// tell from it.
func (f found) likeBest() (out []hypothesis) {
	best := f.best()
	whole := f.settled(best.of)
	for _, h := range f.pool[1:] {
		if best.score-h.score > farBelow || len(out) == mostAlike {
			break
		}
		if len(h.of) == len(best.of) && math.Abs(h.gain-best.gain) <= near && f.model.Alike(whole, f.settled(h.of)) {
			out = append(out, h)
		}
	}
	return out
}

// stranger finds the one member of a set that is in no slot while each of the others has a
// slot of its own, and the slot that is left for it; at is -1 if there is none such.
func stranger(slots []slot, of []int) (at, other int) {
	taken := make([]bool, len(slots))
	other = -1
	for _, c := range of {
		i := slices.IndexFunc(slots, func(sl slot) bool { return slices.Contains(sl.of, c) })
		switch {
		case i >= 0 && !taken[i]:
			taken[i] = true
		case i >= 0 || other >= 0:
			return -1, 0
		default:
			other = c
		}
	}
	if other < 0 {
		return -1, 0
	}
	return slices.Index(taken, false), other
}

// probabilities gives that of each slot, and of all of them together with nothing else.
func (f found) probabilities(slots []slot) (together float64) {
	w := f.weights()
	for i, h := range f.pool {
		all := len(h.of) == len(slots)
		for j := range slots {
			held := slices.ContainsFunc(slots[j].of, func(c int) bool { return slices.Contains(h.of, c) })
			if held {
				slots[j].probability += w[i]
			}
			all = all && held
		}
		if all {
			together += w[i]
		}
	}
	return together
}

// rivals are candidates outside the slots that remain likely, those of one place together.
func (f found) rivals(slots []slot) []slot {
	w := f.weights()
	p := make([]float64, len(f.cands))
	for i, h := range f.pool {
		for _, c := range h.of {
			p[c] += w[i]
		}
	}
	for _, sl := range slots {
		for _, c := range sl.of {
			p[c] = 0
		}
	}
	var out []slot
	for c := range p {
		if p[c] >= 0.005 {
			out = append(out, slot{of: []int{c}, likely: []float64{f.cands[c].gain}, probability: p[c]})
		}
	}
	slices.SortStableFunc(out, func(a, b slot) int { return cmp.Compare(b.probability, a.probability) })
	const most = 8
	return f.merged(out[:min(len(out), most)])
}

// merged joins rivals that stand alone and predict the same.
func (f found) merged(rivals []slot) []slot {
	var out []slot
	for _, r := range rivals {
		h := f.settled(r.of)
		at := slices.IndexFunc(out, func(o slot) bool {
			return f.model.Alike(h, f.settled(o.of[:1])) && math.Abs(f.cands[o.of[0]].gain-f.cands[r.of[0]].gain) <= near
		})
		if at < 0 {
			out = append(out, r)
			continue
		}
		out[at].of, out[at].likely = append(out[at].of, r.of...), append(out[at].likely, r.likely...)
		out[at].probability += r.probability
	}
	return out
}
