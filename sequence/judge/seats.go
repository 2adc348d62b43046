package judge

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/product"
)

// checkBand is how far a check resistor may read from its value: three
// standard uncertainties of both, and half a percent for drift.
const (
	checkSigmas = 3
	checkDrift  = 0.005
)

// Misread is the error of a jig that does not read its own check resistor: it measures
// nobody.
type Misread struct{ Why sequence.Said }

func (m *Misread) Error() string { return sequence.Plain().Of(m.Why) }

// CheckBand is how far a reading of the check resistor of a range may be from its value.
func CheckBand(jig fixture.Capabilities, rng int, got fixture.Resistance) quantity.Ohm {
	want := jig.Checks[rng]
	return quantity.Ohm(checkSigmas*math.Hypot(float64(got.U), want.U*float64(want.Ohm)) + checkDrift*float64(want.Ohm))
}

// ReadsItself judges the reading of a jig's check resistor of a range.
func ReadsItself(jig fixture.Capabilities, rng int, got fixture.Resistance) error {
	want, band := jig.Checks[rng], CheckBand(jig, rng, got)
	if !got.AtLeast && math.Abs(float64(got.Value-want.Ohm)) <= float64(band) {
		return nil
	}
	return &Misread{sequence.Fact(sequence.JigMisreads, jig.Serial, want.Ohm.String(), got.String(), jig.Ranges[rng].Ohm.String())}
}

// Beyond is how many channels past the tail are read too: they tell a tail
// that sits beside its place.
const Beyond = 2

// Seated reports whether a loop through two probes and their switches is contact: clean
// probes are far below an ohm each, so ten ohm more than the switches is doubtful
// (common practice, no source).
func Seated(jig fixture.Capabilities, loop fixture.Resistance) bool {
	return !loop.AtLeast && loop.Value <= 2*jig.Switch+quantity.Ohm(10)
}

// Seats judges the loops of the channels under the tail and beyond: the contact of each
// pin, and why the unit has to be reseated; no code where it has not. Doubtful contact
// is the jig's matter, never the unit's.
func Seats(jig fixture.Capabilities, p *product.Product, loops []fixture.Resistance) (seats []sequence.Seat, why sequence.Said) {
	good := make([]bool, len(loops))
	var bad []string
	for c, loop := range loops {
		good[c] = Seated(jig, loop)
		if c >= len(p.Tail) {
			continue
		}
		seats = append(seats, sequence.Seat{Pin: c + 1, Line: p.Tail[c], Loop: loop, Good: good[c]})
		if !good[c] && p.Tail[c] != "" {
			bad = append(bad, fmt.Sprintf("pin %d (%s)", c+1, p.Tail[c]))
		}
	}
	switch shift := shiftOf(good, len(p.Tail)); {
	case len(bad) == 0:
		return seats, sequence.Said{}
	case shift == 1:
		return seats, sequence.Fact(sequence.TailOffOne, strconv.Itoa(shift))
	case shift > 1:
		return seats, sequence.Fact(sequence.TailOff, strconv.Itoa(shift))
	case len(bad) == len(p.Tail):
		return seats, sequence.Fact(sequence.SeatNone)
	}
	return seats, sequence.Fact(sequence.SeatDoubtful, strings.Join(bad, ", "))
}

// shiftOf is by how many places the tail is displaced, 0 if contact does not
// look like that: the first pins bare and as many channels beyond touched, or
// the last pins bare (then nothing lies beyond, and one bare end pin alone may
// as well be dirt).
func shiftOf(good []bool, pins int) int {
	bare := 0
	for bare < pins && !good[bare] {
		bare++
	}
	for c := bare; c < len(good); c++ {
		if good[c] != (c < pins+bare) {
			return 0
		}
	}
	if bare > 0 && bare < pins && pins+bare <= len(good) {
		return bare
	}
	return 0
}
