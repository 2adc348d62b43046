package diagnose

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// contributions says reading by reading what a group does to the likelihood: what the
// best explanation loses when the group is taken out of it.
func (s *search) contributions(with, without []fault) (pro, con []Contribution) {
	m := s.m
	a, b := m.terms(with), m.terms(without)
	note := func(words string, nats float64) {
		switch {
		case nats > 0.5:
			pro = append(pro, Contribution{words, nats})
		case nats < -0.5:
			con = append(con, Contribution{words, nats})
		}
	}
	for k := range a.keys {
		note(m.keyWords(k), a.keys[k]-b.keys[k])
	}
	for i := range a.rest {
		note(m.restWords(i), a.rest[i]-b.rest[i])
	}
	for i := range a.seats {
		note(m.seatWords(i), a.seats[i]-b.seats[i])
	}
	for i := range a.held {
		note(m.heldWords(i), a.held[i]-b.held[i])
	}
	if len(m.ev.Joins) > 0 {
		note("joins that do not read the jig's resistor", a.other-b.other)
	} else {
		note("a connection that was gone when looked for", a.other-b.other)
	}
	bySize := func(x, y Contribution) int { return compare(math.Abs(y.Nats), math.Abs(x.Nats)) }
	slices.SortStableFunc(pro, bySize)
	slices.SortStableFunc(con, bySize)
	return pro, con
}

// unexplained lists the readings that stay a surprise under the best explanation.
func (m *model) unexplained(h []fault) (out []Contribution) {
	t := m.terms(h)
	const half = surprise / 2
	add := func(words string, nats float64) {
		if nats <= half {
			out = append(out, Contribution{words, nats})
		}
	}
	for k := range t.keys {
		add(m.keyWords(k), t.keys[k])
	}
	for i := range t.rest {
		add(m.restWords(i), t.rest[i])
	}
	for i := range t.seats {
		add(m.seatWords(i), t.seats[i])
	}
	for i := range t.held {
		add(m.heldWords(i), t.held[i])
	}
	for _, k := range m.ev.Joins {
		add(m.keyPlace(k)+" joined by the jig, and not read as its resistor", unless(m.joinFails(k, h)))
	}
	return out
}

func (m *model) keyWords(k int) string {
	key := &m.ev.Keys[k]
	words := []string{m.keyPlace(k)}
	switch key.State {
	case Open:
		words = append(words, "open")
	case Reversed:
		words = append(words, "conducts only against its diode's direction")
	case NoLaw:
		words = append(words, "closed, but no diode's law in its readings")
	case Closed:
		if key.Closed != nil {
			words = append(words, "closed with "+key.Closed.String())
		}
	}
	words = append(words, m.timeWords(key)...)
	return strings.Join(words, " ")
}

func (m *model) timeWords(key *Key) (words []string) {
	say := func(is bool, word string) {
		if is {
			words = append(words, word)
		}
	}
	say(key.Late, "opens late")
	say(key.Teases, "comes and goes")
	say(key.Unsteady, "did not stay closed")
	say(key.Make != nil && key.Make.Long, "bounces long on closing")
	say(key.Break != nil && key.Break.Long, "bounces long on opening")
	say(key.Ghost, "lets current through backwards")
	return words
}

func (m *model) restWords(i int) string {
	p := m.ev.Rest[i]
	return fmt.Sprintf("%s and %s joined at rest by %v", m.lineName(p.Lines[0]), m.lineName(p.Lines[1]), p.Ohm)
}

func (m *model) seatWords(i int) string {
	return fmt.Sprintf("pin %d loop %v", m.ev.Seats[i].Pin, m.ev.Seats[i].Loop)
}

func (m *model) heldWords(i int) string {
	h := m.ev.Held[i]
	return fmt.Sprintf("%s and %s joined while %s is held", m.lineName(h.Lines[0]), m.lineName(h.Lines[1]), m.keyPlace(h.Key))
}

// String gives a reading as it would be said.
func (r Reading) String() string {
	if r.AtLeast {
		return "over " + r.Value.String()
	}
	return r.Value.String()
}

// masked lists what could not be tested because of something else that is wrong.
func (m *model) masked(h []fault) (out []Masked) {
	for k := range m.ev.Keys {
		if by := m.maskedBy(k, h); by != "" {
			out = append(out, Masked{What: m.keyPlace(k), Key: m.ev.Product.Keys[k].Label, By: by})
		}
	}
	return out
}

func (m *model) maskedBy(k int, h []fault) string {
	key := &m.ev.Product.Keys[k]
	if m.nets.same(key.A, key.B) {
		return fmt.Sprintf("its lines %s and %s are joined at rest", m.lineName(key.A), m.lineName(key.B))
	}
	for i := range h {
		f := &h[i]
		switch {
		case f.effect == parts && slices.Contains(m.beyond(f), k):
			return "line " + m.ev.Product.Lines[f.line].Name + " does not reach it: a bad contact would not show"
		case f.effect == adds && m.ev.Keys[k].Closed != nil && slices.Contains(m.beyond(f), k) && f.u > m.mean[k].contact/2:
			return "line " + m.ev.Product.Lines[f.line].Name + " adds more than its contact has"
		case f.effect == moved && !f.seen.own(m.ev.Product, k):
			return "its lines lie in other places"
		}
	}
	if m.ev.Keys[k].State == NotTested {
		return "it was not reached"
	}
	return ""
}

// withinLimits reports whether nothing that a group explains exceeds a limit.
func (m *model) withinLimits(f *fault) bool {
	if !f.isSeries() && f.effect != otherContact {
		return false
	}
	keys := []int{f.key}
	if f.isSeries() {
		keys = m.beyond(f)
	}
	return !slices.ContainsFunc(keys, m.ev.keyWrong)
}
