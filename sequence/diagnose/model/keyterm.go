package model

import (
	"math"

	"padjig/sequence/diagnose/readings"
	"padjig/sequence/nets"
)

// keyTerm is that of everything read at a key: of its contact, and beside it of its
// timing, its diode and what else closed.
type keyTerm struct {
	unit    *readings.Unit
	contact contactTerm
	timing  timeTerm
	diode   diodeTerm
	alone   aloneTerm
}

func (t *keyTerm) count() int { return len(t.unit.Keys) }

func (t *keyTerm) of(k int, h Hypothesis) float64 {
	if t.unit.Keys[k].State == readings.NotTested {
		return 0
	}
	return t.contact.of(k, h) + t.timing.of(k, h) + t.diode.of(k, h) + t.alone.of(k, h)
}

// apart is the squared distance of what two hypotheses predict of key k, in standard
// deviations; infinite where they tell another story.
func (t *keyTerm) apart(k int, g, h Hypothesis) float64 {
	switch {
	case t.unit.Keys[k].State == readings.NotTested:
		return 0
	case explained(t.timing.of(k, g)) != explained(t.timing.of(k, h)), explained(t.diode.of(k, g)) != explained(t.diode.of(k, h)):
		return math.Inf(1)
	}
	return t.contact.apart(k, g, h)
}

// contactTerm is that of whether, which way and with what resistance a key closed.
type contactTerm struct{ *reader }

func (t contactTerm) of(k int, h Hypothesis) float64 {
	return max(t.state(k, h, t.expect(k, h)), capped)
}

func (t contactTerm) state(k int, h Hypothesis, x expected) float64 {
	key := &t.unit.Keys[k]
	switch key.State {
	case readings.Open:
		return t.open(k, h, x)
	case readings.Reversed:
		return unless(x.turned && !t.unit.Open(x.ohm))
	case readings.NoLaw:
		switch {
		case h.has(DiodeOff, k), h.has(Intermittent, k):
			return -1
		case h.has(DiodeBridged, k):
			return -3
		}
		return Surprise
	}
	if x.turned || t.unit.Open(x.ohm) {
		return capped // no better than the worst value
	}
	if key.Closed == nil { // closed, and came and went before it could be read
		return 0
	}
	l := t.value(k, *key.Closed, x)
	if h.has(Intermittent, k) && (t.unit.HasDiode(k) || key.Closed.U > unsteadyPart*key.Closed.Value) {
		return max(l, -math.Log(contactRange)) // read while it came and went
	}
	return l
}

// unsteadyPart is the relative standard uncertainty from which a reading shows that the
// contact moved while it was taken.
const unsteadyPart = 0.005

func (t contactTerm) open(k int, h Hypothesis, x expected) float64 {
	switch {
	case t.unit.Open(x.ohm):
		return 0
	case x.turned:
		return unless(t.unit.Keys[k].Reverse == nil) // it would have conducted backwards
	case h.has(Intermittent, k):
		return -1.5
	}
	return Surprise
}

// slowShift is by how many ohms a key read beside one that is still closed may be off: of
// the order of the switches of a jig.
const slowShift = 15

// value is that of a closed resistance. One outside the limits is a surprise where no
// fault moves it, however the unit's contacts spread.
func (t contactTerm) value(k int, r readings.Reading, x expected) float64 {
	value := max(float64(r.Value), 1e-3)
	switch {
	case r.AtLeast:
		return unless(x.free || x.ohm >= value)
	case x.free:
		return -math.Log(contactRange)
	}
	sd := math.Hypot(x.sd, float64(r.U))
	l := student((value-x.ohm)/sd) + math.Log(value/sd)
	if !x.touched && !r.Within(&t.unit.Product.Keys[k].Limits) {
		l += Surprise
	}
	if x.beside {
		// The keys behind one that opens late share its shift: only one of them pays for it.
		wide := math.Hypot(sd, slowShift)
		z := (value - x.ohm) / wide
		pays := math.Log(wide/sd) / shortly
		l = max(l, student(z)+math.Log(value/sd)-pays+when(math.Abs(z) < 3, 0, Surprise))
	}
	return l
}

func (t contactTerm) apart(k int, g, h Hypothesis) float64 {
	x, y := t.expect(k, g), t.expect(k, h)
	read := t.unit.Keys[k].Closed
	switch {
	case x.turned != y.turned, t.unit.Open(x.ohm) != t.unit.Open(y.ohm):
		return math.Inf(1)
	case t.unit.Open(x.ohm), read == nil:
		return 0
	}
	value := func(x expected) float64 { return when(x.free, float64(read.Value), x.ohm) }
	return math.Pow((value(x)-value(y))/math.Hypot(x.sd, float64(read.U)), 2)
}

// aloneTerm is that of nothing else having closed while a key was held, where that is known.
type aloneTerm struct {
	unit *readings.Unit
	nets *nets.Nets
}

func (t aloneTerm) of(k int, h Hypothesis) float64 {
	key, layout := &t.unit.Keys[k], h.layout()
	elsewhere := layout != nil && !layout.Own(t.unit.Product, k)
	switch {
	case key.Stray && elsewhere && layout.at[k][0] >= 0:
		return unless(!h.has(NoContact, k))
	case key.Stray:
		return t.stray(k, h)
	case !key.Alone:
		return 0
	}
	l := 0.0
	if elsewhere && !h.has(NoContact, k) {
		l += t.closes(k, layout.at[k])
	}
	if f := h.at(SecondPair, k); f != nil {
		l += t.closes(k, readings.Lines{f.Line, f.Mate})
	}
	return l
}

// stray is that of something else having closed, nobody knows what: it asks for a fault
// that closes something else then.
func (t aloneTerm) stray(k int, h Hypothesis) float64 {
	switch {
	case h.has(SecondPair, k):
		return 0
	case h.slowBefore(k, func(int) bool { return true }):
		return -1 // it was still closed beside this one
	}
	return Surprise
}

// closes is that of two lines that should have closed while key k was held.
func (t aloneTerm) closes(k int, l readings.Lines) float64 {
	if l[0] < 0 || t.nets.Same(l[0], l[1]) {
		return 0
	}
	for _, held := range t.unit.Held {
		if held.Key == k && held.Lines.Are(l[0], l[1]) {
			return 0
		}
	}
	return Surprise
}
