package diagnose

import (
	"math"
	"slices"

	"padjig/sequence/product"
)

// model says how likely the evidence is under a hypothesis, which is a set of faults.
// All likelihoods are natural logarithms; those of resistances are densities over the
// logarithm of the resistance, so that they can be compared.
type model struct {
	ev    *Evidence
	pad   *pad
	trend trend
	mean  []healthy // by key
	nets  *nets     // of lines connected at rest
	base  terms     // with no fault
	wide  *fault    // of the whole panel, in the trend already
}

// healthy is what a key without fault reads.
type healthy struct{ contact, path, sd float64 }

const (
	// surprise is what something costs that no fault of a hypothesis explains. It is
	// more than any one fault's prior and less than two.
	surprise = -20.0
	// capped is the most that one closed reading may speak against a hypothesis.
	capped = -40.0
	// decades are the natural logarithms that a free resistance may lie in: four and a
	// half decades for a contact, five for a crack, nine for a bridge.
	contactRange, crackRange, bridgeRange = 10.4, 11.5, 20.7
)

func newModel(e *Evidence) *model {
	m := &model{ev: e, pad: newPad(e.Product), nets: restNets(e)}
	m.settle(flatTrend(e, m.pad))
	return m
}

// settle takes a trend for what healthy keys do.
func (m *model) settle(t trend) {
	m.trend = t
	m.mean = make([]healthy, len(m.ev.Keys))
	for k := range m.mean {
		h := &m.mean[k]
		h.contact, h.path, h.sd = t.healthy(m.ev.Product, m.pad, k)
	}
	m.base = m.terms(nil)
}

// terms are the parts of a likelihood, reading by reading.
type terms struct {
	keys, rest, seats, held []float64
	other                   float64
}

func (t *terms) sum() float64 {
	s := t.other
	for _, list := range [][]float64{t.keys, t.rest, t.seats, t.held} {
		for _, v := range list {
			s += v
		}
	}
	return s
}

// terms gives the likelihood of everything under h, whose magnitudes are settled.
func (m *model) terms(h []fault) terms {
	t := terms{
		keys: make([]float64, len(m.ev.Keys)), rest: make([]float64, len(m.ev.Rest)),
		seats: make([]float64, len(m.ev.Seats)), held: make([]float64, len(m.ev.Held)),
	}
	for k := range t.keys {
		t.keys[k] = m.keyTerm(k, h)
	}
	for i := range t.rest {
		t.rest[i] = m.restTerm(i, h)
	}
	for i := range t.seats {
		t.seats[i] = m.seatTerm(i, h)
	}
	for i := range t.held {
		t.held[i] = m.heldTerm(i, h)
	}
	t.other = m.otherTerm(h)
	return t
}

// gain is how much more likely h makes the evidence than no fault does, its free
// magnitudes settled by the readings, without what h costs a priori. Only readings
// that h touches are gone through.
func (m *model) gain(h []fault) float64 {
	h = flat(h)
	touched := m.touched(h)
	m.fit(h)
	g := m.freedom(h)
	for _, k := range touched.keys {
		g += m.keyTerm(k, h) - m.base.keys[k]
	}
	if touched.rest {
		for i := range m.ev.Rest {
			g += m.restTerm(i, h) - m.base.rest[i]
		}
	}
	if touched.seats {
		for i := range m.ev.Seats {
			g += m.seatTerm(i, h) - m.base.seats[i]
		}
	}
	if touched.held {
		for i := range m.ev.Held {
			g += m.heldTerm(i, h) - m.base.held[i]
		}
	}
	return g + m.otherTerm(h) - m.base.other
}

// touched says which readings a hypothesis can move.
type touched struct {
	keys              []int
	rest, seats, held bool
	other             bool
}

func (m *model) touched(h []fault) touched {
	var t touched
	if len(h) == 1 && h[0].isKey() && h[0].effect != slow && !m.ghosts() {
		t.keys = []int{h[0].key}
	} else {
		t.keys = m.touchedKeys(h)
	}
	for i := range h {
		switch h[i].effect {
		case bridges, closed:
			t.rest, t.held, t.other = true, t.held || len(m.ev.Held) > 0, t.other || h[i].hidden
		case parts:
			t.held, t.other = t.held || len(m.ev.Held) > 0, t.other || len(m.ev.Held) > 0
		case slow:
			t.rest, t.other, t.held = true, t.other || m.ev.Gone, t.held || len(m.ev.Held) > 0
		case vanishes, bouncesBreak:
			t.other = t.other || m.ev.Gone
		case badSeat:
			t.seats = true
		case secondPair:
			t.held = true
		case badJoin:
			t.other = true
		case moved:
			t.seats, t.held = true, true
		}
	}
	return t
}

// ghosts reports whether any key let current through backwards.
func (m *model) ghosts() bool {
	return slices.ContainsFunc(m.ev.Keys, func(k Key) bool { return k.Ghost })
}

func (m *model) touchedKeys(h []fault) []int {
	mark := make([]bool, len(m.ev.Keys))
	for i := range h {
		f := &h[i]
		if f.effect == slow || f.effect == bridges {
			for k := range mark {
				mark[k] = mark[k] || m.ev.Keys[k].Ghost
			}
		}
		switch {
		case f.isKey():
			mark[f.key] = true
			for k := f.key + 1; f.effect == slow && k <= f.key+shortly && k < len(mark); k++ {
				mark[k] = mark[k] || m.share(k, f.key) || m.ev.Keys[k].Late || m.ev.Keys[k].Stray
			}
		case f.isSeries():
			for _, k := range m.beyond(f) {
				mark[k] = true
			}
		case f.effect == bridges:
			m.markBetween(mark, f.line, f.mate)
		case f.effect == moved || f.effect == thin || f.effect == graded || f.effect == jigNoise:
			for k := range mark {
				mark[k] = true
			}
		}
	}
	var out []int
	for k, on := range mark {
		if on {
			out = append(out, k)
		}
	}
	return out
}

// beyond lists the keys that a fault of a line concerns.
func (m *model) beyond(f *fault) []int {
	track := m.ev.Product.Lines[f.line].Track
	return track[min(max(f.after, 0), len(track)):]
}

// markBetween marks the keys whose current could also flow through a bridge.
func (m *model) markBetween(mark []bool, a, b int) {
	for _, k := range m.ev.Product.Lines[a].Track {
		if key := m.ev.Product.Keys[k]; ordered(key.A, key.B) == ordered(a, b) {
			mark[k] = true
		}
	}
}

// student is the density of Student's t of four degrees of freedom: contacts have wider
// tails than a normal distribution gives them.
func student(z float64) float64 {
	return math.Log(0.375) - 2.5*math.Log1p(z*z/4)
}

// has gives the first fault of h with an effect at key k.
func has(h []fault, e effect, k int) *fault {
	for i := range h {
		if h[i].effect == e && h[i].key == k {
			return &h[i]
		}
	}
	return nil
}

// moves is the mapping of a hypothesis, nil where lines lie in their places.
func moves(h []fault) *mapping {
	for i := range h {
		if h[i].effect == moved {
			return h[i].seen
		}
	}
	return nil
}

// extra is the series resistance that the faults of h put before key k.
func (m *model) extra(k int, h []fault) (sum float64) {
	for i := range h {
		f := &h[i]
		if !f.isSeries() {
			continue
		}
		if m.isBeyond(k, f) {
			sum += f.ohm
		}
	}
	return sum
}

// expected is what h lets key k read: its resistance, whether the size of its contact is
// free, and the standard deviation otherwise.
type expected struct {
	ohm, sd float64
	free    bool // the contact takes what value the reading has
	touched bool // a fault moves the reading away from a healthy one
	beside  bool // read beside a key that was still closed
	turned  bool // conducts only against its diode's direction
}

func (m *model) expect(k int, h []fault) expected {
	own := m.mean[k]
	x := expected{ohm: own.contact + own.path, sd: own.sd, touched: m.wide != nil}
	if added := m.extra(k, h); added > 0 {
		x.ohm, x.touched = x.ohm+added, true
	}
	if has(h, otherContact, k) != nil {
		x.free, x.touched = true, true
	}
	if has(h, noContact, k) != nil {
		x.ohm, x.touched = math.Inf(1), true
	}
	x.turned = has(h, diodeTurned, k) != nil
	if seen := moves(h); seen != nil {
		if !seen.own(m.ev.Product, k) {
			x.ohm, x.touched = math.Inf(1), true
		} else if seen.turned[k] {
			x.turned = !x.turned
		}
	}
	m.afterSlow(k, h, &x)
	m.shunt(k, h, &x)
	return x
}

// slowShift is by how many ohms a key read beside one that is still closed may be off: of
// the order of the switches of a jig.
const slowShift = 15

// shortly is how many keys after one that opens late may still be read beside it.
const shortly = 4

// afterSlow marks what is read shortly after a key that opens late and shares a line: if
// that is still closed, the guards feed current through it.
func (m *model) afterSlow(k int, h []fault, x *expected) {
	for i := range h {
		if f := &h[i]; f.effect == slow && f.key < k && k-f.key <= shortly && m.share(k, f.key) {
			x.beside = true
		}
	}
}

// share reports whether two keys have a line in common.
func (m *model) share(j, k int) bool {
	a, b := &m.ev.Product.Keys[j], &m.ev.Product.Keys[k]
	return a.A == b.A || a.A == b.B || a.B == b.A || a.B == b.B
}

// shunt takes in the bridges that lead current past the contact.
func (m *model) shunt(k int, h []fault, x *expected) {
	key := &m.ev.Product.Keys[k]
	var past []branch
	for i := range h {
		if f := &h[i]; f.effect == bridges && f.ohm > 0 {
			past = append(past, branch{point{f.line, 0}, point{f.mate, 0}, f.ohm})
		}
	}
	if len(past) == 0 || math.IsInf(x.ohm, 1) || !m.leads(past, key.A, key.B) {
		return
	}
	a, b := m.pad.ends(k)
	contact := x.ohm - m.pad.path(k, h)
	x.ohm = m.pad.between(key.A, key.B, append(past, branch{a, b, max(contact, 0)}), h)
}

// leads reports whether bridges connect two lines.
func (m *model) leads(past []branch, a, b int) bool {
	n := newNets(len(m.ev.Product.Lines))
	for _, p := range past {
		n.join(p.a.line, p.b.line)
	}
	return n.same(a, b)
}

func (m *model) open(r float64) bool { return r >= float64(m.ev.Closure) }

func (m *model) hasDiode(k int) bool { return m.ev.Product.Keys[k].Diode != product.NoDiode }
