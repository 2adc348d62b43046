package diagnose

import (
	"fmt"
	"math"
	"slices"
	"strconv"
)

// alike reports whether two hypotheses predict the same of every reading taken, and so
// cannot be told apart by any: both circuits are worked out, and their predictions may
// differ by less than the readings' own uncertainty and the contacts' spread.
func (m *model) alike(g, h []fault) bool {
	distance := 0.0
	for k := range m.ev.Keys {
		if m.ev.Keys[k].State == NotTested {
			continue
		}
		x, y := m.expect(k, g), m.expect(k, h)
		if x.turned != y.turned || m.open(x.ohm) != m.open(y.ohm) {
			return false
		}
		if !m.open(x.ohm) {
			distance += m.apart(k, x, y)
		}
		if explained(m.timeTerm(k, g)) != explained(m.timeTerm(k, h)) || explained(m.diodeTerm(k, g)) != explained(m.diodeTerm(k, h)) {
			return false
		}
	}
	return distance < 1 && m.sameElse(g, h)
}

// apart is the squared distance of two predictions of key k, in standard deviations.
func (m *model) apart(k int, x, y expected) float64 {
	read := m.ev.Keys[k].Closed
	if read == nil {
		return 0
	}
	value := func(x expected) float64 {
		if x.free {
			return float64(read.Value)
		}
		return x.ohm
	}
	return math.Pow((value(x)-value(y))/math.Hypot(x.sd, float64(read.U)), 2)
}

// sameElse compares what is explained beside the keys.
func (m *model) sameElse(g, h []fault) bool {
	for i := range m.ev.Rest {
		if explained(m.restTerm(i, g)) != explained(m.restTerm(i, h)) {
			return false
		}
	}
	for i := range m.ev.Held {
		if explained(m.heldTerm(i, g)) != explained(m.heldTerm(i, h)) {
			return false
		}
	}
	for i := range m.ev.Seats {
		if explained(m.seatTerm(i, g)) != explained(m.seatTerm(i, h)) {
			return false
		}
	}
	return explained(m.otherTerm(g)) == explained(m.otherTerm(h))
}

// explained reports whether a reading of this likelihood is no surprise.
func explained(l float64) bool { return l > surprise/2 }

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
func (s *search) slots() []slot {
	best := s.pool[0]
	slots := make([]slot, len(best.of))
	for i, member := range best.of {
		slots[i] = slot{of: []int{member}, likely: []float64{best.gain}}
	}
	alike := s.likeBest()
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
func (s *search) likeBest() (out []hypothesis) {
	best := s.pool[0]
	whole := s.settled(best.of)
	for _, h := range s.pool[1:] {
		if best.score-h.score > farBelow || len(out) == mostAlike {
			break
		}
		if len(h.of) == len(best.of) && math.Abs(h.gain-best.gain) <= near && s.m.alike(whole, s.settled(h.of)) {
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
func (s *search) probabilities(slots []slot) (together float64) {
	w := s.weights()
	for i, h := range s.pool {
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
func (s *search) rivals(slots []slot) []slot {
	w := s.weights()
	p := make([]float64, len(s.cands))
	for i, h := range s.pool {
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
			out = append(out, slot{of: []int{c}, likely: []float64{s.cands[c].gain}, probability: p[c]})
		}
	}
	slices.SortStableFunc(out, func(a, b slot) int { return compare(b.probability, a.probability) })
	const most = 8
	return s.merged(out[:min(len(out), most)])
}

// merged joins rivals that stand alone and predict the same.
func (s *search) merged(rivals []slot) []slot {
	var out []slot
	for _, r := range rivals {
		h := s.settled(r.of)
		at := slices.IndexFunc(out, func(o slot) bool {
			return s.m.alike(h, s.settled(o.of[:1])) && math.Abs(s.cands[o.of[0]].gain-s.cands[r.of[0]].gain) <= near
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

// group turns a slot into causes with places and weights.
func (s *search) group(sl slot, settled []fault) Group {
	g := Group{Probability: min(sl.probability, 1)}
	for i, c := range sl.of {
		f := s.cands[c].fault
		size := f
		for j := range settled {
			if settled[j].same(&f) {
				size = settled[j]
			}
		}
		for _, n := range s.m.names(&f) {
			g.Causes = append(g.Causes, s.m.cause(n, &size, math.Log(n.prior)+sl.likely[i]))
		}
	}
	normalise(g.Causes)
	return g
}

func (m *model) cause(n named, f *fault, logWeight float64) Cause {
	c := Cause{
		Kind: n.kind, Place: n.place, Weight: logWeight, Ohm: m.estimate(f),
		Between: m.keysBeside(f), Plant: m.plant(f, n.kind),
	}
	if n.key >= 0 {
		c.Key = m.ev.Product.Keys[n.key].Label
	}
	for _, l := range n.lines {
		c.Lines = append(c.Lines, m.ev.Product.Lines[l].Name)
		c.Pins = append(c.Pins, m.ev.Product.Lines[l].Pin)
	}
	if f.effect == secondPair && f.line >= 0 {
		c.Also = []string{m.ev.Product.Lines[f.line].Name, m.ev.Product.Lines[f.mate].Name}
	}
	if n.pin > 0 && len(n.lines) == 0 {
		c.Pins = []int{n.pin}
	}
	return c
}

// keysBeside are the keys between which a line's fault lies.
func (m *model) keysBeside(f *fault) []string {
	if !f.isSeries() {
		return nil
	}
	track := m.ev.Product.Lines[f.line].Track
	before := ""
	if f.after > 0 {
		before = m.ev.Product.Keys[track[f.after-1]].Label
	}
	return []string{before, m.ev.Product.Keys[track[max(f.after, 0)]].Label}
}

// estimate is the magnitude of a fault. That of a contact is what the key reads less its
// healthy tracks, whose spread counts.
func (m *model) estimate(f *fault) *Estimate {
	switch f.effect {
	case otherContact:
		key := &m.ev.Keys[f.key]
		if key.Closed == nil || key.Closed.AtLeast {
			return nil
		}
		path := m.mean[f.key].path
		return &Estimate{max(m.contactOf(f.key, nil), 0), ohm(math.Hypot(float64(key.Closed.U), trackSpread*path))}
	case adds, bridges, closed:
		if f.ohm > 0 && !(f.effect == closed && m.hasDiode(f.key)) { // a diode's drop is no resistance
			return &Estimate{ohm(f.ohm), ohm(f.u)}
		}
	}
	return nil
}

// normalise turns logarithms of weights into weights that sum to 1, the largest first.
func normalise(causes []Cause) {
	top := math.Inf(-1)
	for _, c := range causes {
		top = max(top, c.Weight)
	}
	sum := 0.0
	for i := range causes {
		causes[i].Weight = math.Exp(causes[i].Weight - top)
		sum += causes[i].Weight
	}
	for i := range causes {
		causes[i].Weight /= sum
	}
	slices.SortStableFunc(causes, func(a, b Cause) int { return compare(b.Weight, a.Weight) })
}

// String says a cause in one line.
func (c Cause) String() string {
	if c.Ohm != nil {
		return fmt.Sprintf("%s: %s, %v", c.Kind, c.Place, c.Ohm)
	}
	return fmt.Sprintf("%s: %s", c.Kind, c.Place)
}

// String gives the value and the expanded uncertainty in one unit, with two digits of the
// uncertainty and as many of the value: "639.8 ± 2.0 ohm, k = 2".
func (e Estimate) String() string {
	if !(e.U > 0) || e.Value.IsOpen() {
		return e.Value.String()
	}
	expanded := 2 * float64(e.U)
	step := int(math.Floor(math.Log10(expanded))) - 1
	sign, power := "", 0
	for _, p := range []struct {
		sign  string
		power int
	}{{"M", 6}, {"k", 3}} {
		if sign == "" && float64(e.Value) >= math.Pow10(p.power) {
			sign, power = p.sign, p.power
		}
	}
	digits := func(v float64) string { return strconv.FormatFloat(v/math.Pow10(power), 'f', max(power-step, 0), 64) }
	return fmt.Sprintf("%s ± %s %sohm, k = 2", digits(float64(e.Value)), digits(expanded), sign)
}
