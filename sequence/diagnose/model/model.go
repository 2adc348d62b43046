// Package model is the physics of a diagnosis: what a unit with given faults would read,
// and how likely that makes what was read. It knows effects in the circuit and in time,
// and nothing of what may have happened to the part.
//
// A good pad with nothing pressed is a forest: its inverse is known in closed form, what
// two taps of a line have in common being the track up to the nearer one. A break or a
// crack adds to that inverse, a contact or a bridge is a low-rank update of it by the
// identity of Woodbury, and no circuit is solved anew ([pad]).
//
// Healthy contacts spread. What they have in common and how much they spread is estimated
// from the unit itself ([trend]), so that a fault is what this unit's other keys do not do.
// What a key reads is predicted by [reader], free magnitudes are set by [settler], and
// each sort of readings is scored by a [term].
package model

import (
	"padjig/sequence/diagnose/readings"
	"padjig/sequence/nets"
)

// Model says how likely the evidence is under a hypothesis.
type Model struct {
	unit   *readings.Unit
	nets   *nets.Nets
	reader *reader
	settle settler
	reach  reach
	keys   keyTerm
	whole  wholeTerm
	terms  [sorts]term
	trend  trend
	wide   *Fault
	base   Scores // with no fault
}

// New is the model of a unit in which nothing concerns the whole panel.
func New(u *readings.Unit) *Model {
	p := panel{u, newPad(u.Product)}
	return under(p, u.Nets(), p.flat(), nil)
}

// under is the model with a trend, which a fault of the whole panel may have made.
func under(p panel, joined *nets.Nets, t trend, wide *Fault) *Model {
	u := p.unit
	r := &reader{unit: u, pad: p.pad, healthy: p.healthy(t), wide: wide != nil}
	m := &Model{
		unit: u, nets: joined, reader: r, settle: settler{r, joined}, reach: reachOf(r), trend: t, wide: wide,
		keys:  keyTerm{u, contactTerm{r}, timeTerm{u, joined}, diodeTerm{u}, aloneTerm{u, joined}},
		whole: wholeTerm{u, sides{p.pad}},
	}
	m.terms = [sorts]term{
		Keys: &m.keys, Rest: restTerm{r, joined}, Seats: seatTerm{u}, Held: heldTerm{u, joined, sides{p.pad}}, Whole: m.whole,
	}
	m.base = m.Scores(nil)
	return m
}

// Views are models in which something concerns the whole panel: tracks printed too thin,
// contacts printed beside their place. They are tried only where several keys are not as
// they should be.
func (m *Model) Views() (out []*Model) {
	wrong := 0
	for k := range m.unit.Keys {
		if m.unit.KeyWrong(k) {
			wrong++
		}
	}
	if wrong < 3 {
		return nil
	}
	p := m.panel()
	if t, ok := p.thin(m.trend); ok {
		out = append(out, under(p, m.nets, t, &Fault{Effect: Thin, Ohm: t.tracks}))
	}
	if t, ok := p.graded(m.trend); ok {
		out = append(out, under(p, m.nets, t, &Fault{Effect: Graded}))
	}
	return out
}

// Noisy is the model in which no reading says anything.
func (m *Model) Noisy() *Model { return under(m.panel(), m.nets, m.trend, &Fault{Effect: JigNoise}) }

func (m *Model) panel() panel { return panel{m.unit, m.reader.pad} }

// Wide is the fault that concerns the whole panel, nil where there is none.
func (m *Model) Wide() *Fault { return m.wide }

// Total is how likely everything is with no fault but that of the whole panel.
func (m *Model) Total() float64 { return m.base.sum() }

// Scores gives the likelihood of everything under h, whose magnitudes are settled.
func (m *Model) Scores(h Hypothesis) (s Scores) {
	for sort, term := range m.terms {
		s[sort] = make([]float64, term.count())
		for i := range s[sort] {
			s[sort][i] = term.of(i, h)
		}
	}
	return s
}

// Join is how likely h makes that a key, joined by the jig, does not read as its resistor.
func (m *Model) Join(k int, h Hypothesis) float64 { return m.whole.join(k, h) }

// Settle gives the free magnitudes of h what the readings say.
func (m *Model) Settle(h Hypothesis) { m.settle.settle(h) }

// Gain is how much more likely h makes the evidence than no fault does, its free
// magnitudes settled by the readings, without what h costs a priori. Only readings
// that h touches are gone through.
func (m *Model) Gain(h Hypothesis) float64 {
	h = h.Flat()
	touched := m.reach.touched(h)
	m.settle.settle(h)
	g := freedom(h)
	for _, k := range touched.Keys {
		g += m.keys.of(k, h) - m.base[Keys][k]
	}
	for _, sort := range []Sort{Rest, Seats, Held} {
		if touched.All[sort] {
			for i, base := range m.base[sort] {
				g += m.terms[sort].of(i, h) - base
			}
		}
	}
	return g + m.whole.of(0, h) - m.base[Whole][0]
}

// Touched says which readings h can move.
func (m *Model) Touched(h Hypothesis) Touched { return m.reach.touched(h.Flat()) }

// Alike reports whether two hypotheses predict the same of every reading taken, and so
// cannot be told apart by any: both circuits are worked out, and their predictions may
// differ by less than the readings' own uncertainty and the contacts' spread.
func (m *Model) Alike(g, h Hypothesis) bool {
	distance := 0.0
	for k := range m.unit.Keys {
		if distance += m.keys.apart(k, g, h); !(distance < 1) {
			return false
		}
	}
	for sort := Rest; sort < sorts; sort++ {
		for i := range m.base[sort] {
			if explained(m.terms[sort].of(i, g)) != explained(m.terms[sort].of(i, h)) {
				return false
			}
		}
	}
	return true
}

// Nets are the lines found connected at rest.
func (m *Model) Nets() *nets.Nets { return m.nets }

// Healthy is what key k would read without a fault.
func (m *Model) Healthy(k int) Healthy { return m.reader.healthy[k] }

// Tilt is by how much the logarithm of the contacts grows for each key pitch to the right
// and down.
func (m *Model) Tilt() (right, down float64) { return m.trend.tilt[0], m.trend.tilt[1] }

// Breaks are the places at which a line can be broken.
func (m *Model) Breaks(line int) []int { return m.reader.pad.segments(line) }

// Beyond lists the keys that a fault of a line concerns.
func (m *Model) Beyond(f *Fault) []int { return m.reader.pad.beyond(f) }

// Tails is the mean of what two lines have between pin and track.
func (m *Model) Tails(f *Fault) float64 { return m.reader.pad.tails(f) }
