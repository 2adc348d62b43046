package samepad

import (
	"math"
	"slices"
)

// Jig is what is known of a jig, or of a station's: what it read of reference units, and of units that came
// by. Pads of all jigs that are held against each other have their keys in one order.
type Jig struct {
	References map[string][]Pad // checks of each reference unit, by its serial number
	Pads       []Pad            // of units, each read once
}

// Basis is what a difference between two jigs is known from.
type Basis string

// The bases.
const (
	SameJig        Basis = "same jig"
	FromReferences Basis = "reference units" // that both have read
	FromUnits      Basis = "units"           // those that each of them tested; lots that differ are in it
	NotKnown       Basis = "not known"       // neither: it is taken for none, and wear for all that differs
)

// Offset is by how much one jig reads more than another, key by key, as logarithms. What all keys have in common
// is in none: it counts for neither side when pads are compared.
type Offset struct {
	Basis Basis
	Log   []float64 // nil for none
	U     []float64 // standard uncertainty of each
}

// leastChecks are the fewest checks of one reference unit on a jig that say how it reads.
const leastChecks = 2

// OffsetOf is by how much a jig reads more than the one here. Reference units that both read tell it best. Without
// them the medians of the units that each tested do, and with lots that differ they err: by that a unit can be missed.
//
// Either is drawn towards none as far as it is no more than its own uncertainty would make of jigs
// that are alike, and what is left of that uncertainty goes into every comparison.
func OffsetOf(there, here Jig) Offset {
	if log, u := byReferences(there, here); log != nil {
		return drawn(FromReferences, log, u)
	}
	if len(there.Pads) < LeastPads || len(here.Pads) < LeastPads {
		return Offset{Basis: NotKnown}
	}
	log, u := byUnits(there, here)
	return drawn(FromUnits, log, u)
}

// byReferences takes the mean over the units that both read. U is the scatter of checks, of all keys and units
// together, over their number.
func byReferences(there, here Jig) (log, u []float64) {
	var sums, shares []float64 // by key: of differences, of units times what their checks leave of one check's variance
	var units []float64
	squares, freedom := 0.0, 0.0
	for unit, checks := range there.References {
		others := here.References[unit]
		if len(checks) < leastChecks || len(others) < leastChecks {
			continue
		}
		for k := range min(width(checks), width(others)) {
			a, b := logs(checks, k), logs(others, k)
			if len(a) < leastChecks || len(b) < leastChecks {
				continue
			}
			for len(sums) <= k {
				sums, shares, units = append(sums, 0), append(shares, 0), append(units, 0)
			}
			sums[k] += mean(a) - mean(b)
			shares[k] += 1/float64(len(a)) + 1/float64(len(b))
			units[k]++
			for _, some := range [][]float64{a, b} {
				m := mean(some)
				for _, v := range some {
					squares += square(v - m)
				}
				freedom += float64(len(some) - 1)
			}
		}
	}
	known := 0
	for k := range sums {
		if units[k] == 0 {
			sums[k] = math.NaN()
			shares[k] = math.NaN()
			continue
		}
		known++
		sums[k] /= units[k]
		shares[k] = math.Sqrt(shares[k]*squares/freedom) / units[k]
	}
	if known < LeastKeys {
		return nil, nil
	}
	return sums, shares
}

// byUnits takes the medians. U is that of a median of so many normal values, with their scatter by their median deviation.
func byUnits(there, here Jig) (log, u []float64) {
	for k := range min(width(there.Pads), width(here.Pads)) {
		a, b := logs(there.Pads, k), logs(here.Pads, k)
		if len(a) < LeastPads || len(b) < LeastPads {
			log, u = append(log, math.NaN()), append(u, math.NaN())
			continue
		}
		log = append(log, median(slices.Clone(a))-median(slices.Clone(b)))
		u = append(u, math.Hypot(ofMedian(a), ofMedian(b)))
	}
	return log, u
}

func ofMedian(v []float64) float64 {
	const quartile, wider = 0.674489750196082, 1.2533 // the root of π/2: a median scatters that much wider than a mean
	middle := median(slices.Clone(v))
	size := make([]float64, len(v))
	for i := range v {
		size[i] = math.Abs(v[i] - middle)
	}
	return wider * median(size) / quartile / math.Sqrt(float64(len(v)))
}

// drawn takes off what all keys have in common, and draws the rest towards none: beyond their own uncertainty
// offsets scatter by tau, and the best guess of each is tau² of tau² + u² parts of it.
func drawn(basis Basis, log, u []float64) Offset {
	var known []float64
	for _, v := range log {
		if !math.IsNaN(v) {
			known = append(known, v)
		}
	}
	o := Offset{Basis: basis}
	if len(known) < LeastKeys {
		o.Basis = NotKnown
		return o
	}
	common, tau := median(known), 0.0
	for k := range log {
		if !math.IsNaN(log[k]) {
			log[k] -= common
			tau += (square(log[k]) - square(u[k])) / float64(len(known))
		}
	}
	tau = max(tau, 0)
	o.Log, o.U = make([]float64, len(log)), make([]float64, len(log))
	for k := range log {
		if math.IsNaN(log[k]) {
			o.U[k] = math.Sqrt(tau) // it may differ as the others do
			continue
		}
		if part := tau + square(u[k]); part > 0 {
			o.Log[k] = log[k] * tau / part
			o.U[k] = math.Sqrt(tau * square(u[k]) / part)
		}
	}
	return o
}

// Off is a pad as the jig here would have read it, with the uncertainty of that in its readings.
func (p Pad) Off(o Offset) Pad {
	if o.Log == nil {
		return p
	}
	out := slices.Clone(p)
	for k := range min(len(out), len(o.Log)) {
		if r := out[k]; r.there() {
			ohm := r.Ohm * math.Exp(-o.Log[k])
			out[k] = Reading{Ohm: ohm, U: ohm * math.Hypot(r.U/r.Ohm, o.U[k])}
		}
	}
	return out
}

func width(pads []Pad) (keys int) {
	for _, p := range pads {
		keys = max(keys, len(p))
	}
	return keys
}

// logs are the readings of a key.
func logs(pads []Pad, key int) (out []float64) {
	for _, p := range pads {
		if key < len(p) && p[key].there() {
			out = append(out, math.Log(p[key].Ohm))
		}
	}
	return out
}

func mean(v []float64) (m float64) {
	for _, x := range v {
		m += x / float64(len(v))
	}
	return m
}
