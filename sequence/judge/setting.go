package judge

import (
	"cmp"
	"math"
	"slices"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/nets"
	"padjig/sequence/product"
)

// Setting is one product on one jig: how it is measured, and what is held against what.
// It does not change once it is made.
type Setting struct {
	Product   *product.Product
	Jig       fixture.Capabilities
	Actuation sequence.Actuation
	Gentle    bool // a first press: one range, nothing twice

	Low, Mid, High int          // ranges: closed contacts, contact watching and closures, insulation
	Near           int          // range nearest to the current at which contacts have to be good; -1: none is asked for, or only one may be used
	Loop           int          // range for the pads under the probes: no current through the unit
	Closure        quantity.Ohm // anything closer while a key is held is a second contact
	Lines          []int        // lines with a tail pin, by number
	Ranges         []int        // those that may be used, smallest reference first
}

// scanRange is the smallest reference with which contacts are watched: with it
// the current stays below that of a scanned keypad, and 100 kohm still reads
// well within a percent.
const scanRange quantity.Ohm = 1000

// leastClosure is the closest that two lines may come while a key is held
// without counting as a second contact. Scanners with pull-ups of 100 kohm
// still read 43 kohm as closed (VIL = 0.3 VDD).
const leastClosure quantity.Ohm = 100e3

// NewSetting chooses the ranges; there are none in it where the product stands none of
// the jig's.
func NewSetting(p *product.Product, jig fixture.Capabilities, how sequence.Actuation) *Setting {
	s := &Setting{Product: p, Jig: jig, Actuation: how, Closure: ClosureOf(p), Near: -1}
	for i, l := range p.Lines {
		if l.Pin > 0 {
			s.Lines = append(s.Lines, i)
		}
	}
	for i := range jig.Ranges {
		if jig.Current(i) <= p.Test.MaxCurrent {
			s.Ranges = append(s.Ranges, i)
		}
	}
	if len(s.Ranges) == 0 {
		return s
	}
	s.Low, s.High = s.Ranges[0], s.Ranges[len(s.Ranges)-1]
	s.Loop, s.Mid = s.Low, s.High
	if i := slices.IndexFunc(s.Ranges, func(r int) bool { return jig.Ranges[r].Ohm >= scanRange }); i >= 0 {
		s.Mid = s.Ranges[i]
	}
	s.nearContactCurrent()
	return s
}

// nearContactCurrent chooses, besides the range that reads contacts best, one whose current
// is like that at which they have to be good. They are watched and looked for on it as well,
// as far as it is fast enough to see them bounce: a film that a larger current breaks down
// is to be read before that.
func (s *Setting) nearContactCurrent() {
	i := slices.IndexFunc(s.Product.Keys, func(k product.Key) bool { return k.Diode == product.NoDiode })
	if i < 0 || !s.Product.Test.Contact.Asked() || len(s.Ranges) < 2 {
		return
	}
	at := s.Product.ContactCurrent(i)
	off := func(rng int) float64 { return math.Abs(math.Log(float64(s.Jig.Current(rng) / at))) }
	s.Near = slices.MinFunc(s.Ranges[1:], func(a, b int) int { return cmp.Compare(off(a), off(b)) })
	for _, rng := range s.Ranges {
		if constant := float64(s.Jig.Ranges[rng].Ohm) * s.Jig.LineFarad; rng <= s.Near && constant <= s.Jig.Tick.Seconds() {
			s.Mid = max(s.Mid, rng)
		}
	}
}

// bends is how many times its reference resistor a contact may have on a range before what no
// jig states of its converter, parts in a thousand of the current there, is a percent of it.
const bends = 10

// Large is the range of the other current at which the contact of key k is read: the largest
// that still reads one at its limit straight.
func (s *Setting) Large(k int) int {
	large := s.Low
	for _, rng := range s.Ranges {
		if rng < s.Near && bends*s.Jig.Ranges[large].Ohm < s.Product.Keys[k].Limits.ClosedMax {
			large = rng
		}
	}
	return large
}

// AtTwoCurrents reports whether the contact of key k is read at two currents.
func (s *Setting) AtTwoCurrents(k int) bool {
	return s.Near >= 0 && !s.Gentle && !hasDiode(s.Product.Keys[k])
}

// ClosureOf is the resistance below which two lines of a product count as connected
// while a key is held.
func ClosureOf(p *product.Product) quantity.Ohm {
	closure := leastClosure
	if s := p.Scanner; s != nil && s.Supply > s.Low {
		// Twice the largest resistance the scanner still reads as closed:
		// R = pull-up * VIL / (VDD - VIL).
		closure = max(closure, 2*s.PullUp*quantity.Ohm(s.Low/(s.Supply-s.Low)))
	}
	for i := range p.Keys {
		closure = min(closure, p.Keys[i].Limits.RestMin)
	}
	return closure
}

// StillReads is the largest expanded uncertainty, relative to a key's limit,
// with which a reading still says something of it (a tenth: common practice,
// no source).
const StillReads = 0.1

// Gently leaves only the range of the smallest current on which the limits of
// the keys can be read with so many samples; where a key has a series diode, on
// which a conducting diode does not look open. What is behind a diode cannot be
// told from its drop at one current: whether the key closes is all that is read of it.
func (s Setting) Gently(samples int) *Setting {
	i := len(s.Ranges) - 1
	for i > 0 && !s.readsEvery(s.Ranges[i], samples) {
		i--
	}
	s.Gentle, s.Ranges = true, s.Ranges[i:i+1]
	s.Low, s.Mid, s.High = s.Ranges[0], s.Ranges[0], s.Ranges[0]
	return &s
}

func (s Setting) readsEvery(rng, samples int) bool {
	return !slices.ContainsFunc(s.Product.Keys, func(k product.Key) bool {
		if k.Diode != product.NoDiode {
			return s.conducting(k.Limits.ForwardMax, rng) > s.Closure/2
		}
		expected := s.Jig.Expect(k.Limits.ClosedMax, rng, samples)
		return expected.AtLeast || 2*expected.U > StillReads*k.Limits.ClosedMax
	})
}

// conducting is what a diode with this drop reads as.
func (s Setting) conducting(drop quantity.Volt, rng int) quantity.Ohm {
	return s.Jig.Ranges[rng].Ohm * quantity.Ohm(drop/max(s.Jig.Vref-drop, 1e-3))
}

// RangeFor is the range that reads r best, never above the given one.
func (s *Setting) RangeFor(r quantity.Ohm, most int) int {
	return s.Jig.RangeFor(r, slices.DeleteFunc(slices.Clone(s.Ranges), func(i int) bool { return i > most }))
}

// Diodes reports whether any key has a series diode, so that currents must be
// tried both ways.
func (s *Setting) Diodes() bool { return slices.ContainsFunc(s.Product.Keys, hasDiode) }

func hasDiode(k product.Key) bool { return k.Diode != product.NoDiode }

// ThroughDiode reports whether what is read of key k is a diode's drop as well,
// with nothing to tell the two apart.
func (s *Setting) ThroughDiode(k int) bool { return s.Gentle && hasDiode(s.Product.Keys[k]) }

// IsOpen reports whether a glance shows no contact at all.
func (s *Setting) IsOpen(glance fixture.Resistance) bool {
	return glance.AtLeast || glance.Value >= s.Closure
}

// EndLines are the lines to feed and to ground for key k: current runs the way
// its diode conducts.
func (s *Setting) EndLines(k int) (feed, ground int) {
	key := s.Product.Keys[k]
	if key.Diode == product.BtoA {
		return key.B, key.A
	}
	return key.A, key.B
}

// Except lists the lines that are not among those given.
func (s *Setting) Except(lines ...int) []int {
	return slices.DeleteFunc(slices.Clone(s.Lines), func(l int) bool { return slices.Contains(lines, l) })
}

// Guarded lists the lines held at the sensed potential while key k is read. A
// line known to be connected to one of the key's own floats: a guard on it
// would drive current through that connection into the line that is read.
func (s *Setting) Guarded(k int, known *nets.Nets) []int {
	if !s.Jig.Guard {
		return nil
	}
	key := s.Product.Keys[k]
	return slices.DeleteFunc(s.Except(key.A, key.B), func(l int) bool { return known.Same(l, key.A) || known.Same(l, key.B) })
}

// Limit is the least resistance that two lines must have, and its guard band.
type Limit func(a, b int) (least quantity.Ohm, guard float64)

// AtRest is the limit with nothing pressed: that of the keys that join the two lines,
// or the strictest of the product for lines that no key joins.
func (s *Setting) AtRest(a, b int) (limit quantity.Ohm, guard float64) {
	for _, k := range s.Product.Keys {
		if Joins(k, a, b) {
			limit, guard = max(limit, k.Limits.RestMin), max(guard, k.Limits.Guard)
		}
	}
	if limit > 0 {
		return limit, guard
	}
	return s.StrictestAtRest()
}

// StrictestAtRest is the largest limit of all keys with nothing pressed.
func (s *Setting) StrictestAtRest() (limit quantity.Ohm, guard float64) {
	for _, k := range s.Product.Keys {
		limit, guard = max(limit, k.Limits.RestMin), max(guard, k.Limits.Guard)
	}
	return limit, guard
}

// WhileHeld is the limit while a key is held.
func (s *Setting) WhileHeld(int, int) (limit quantity.Ohm, guard float64) { return s.Closure, 0 }

// Joins reports whether a key lies between two lines.
func Joins(key product.Key, a, b int) bool {
	return key.A == a && key.B == b || key.A == b && key.B == a
}
