package sequence

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"padjig/fixture"
	"padjig/fixture/quantity"
)

// checkBand is how far a check resistor may read from its value: three
// standard uncertainties of both, and half a percent for drift.
const (
	checkSigmas = 3
	checkDrift  = 0.005
)

// selfTest reads the jig's check resistors. A jig that cannot read itself
// measures nobody: the run is aborted, the unit untouched.
func (r *runner) selfTest(Step) []exchange {
	jig := r.plan.Jig
	if len(jig.Checks) == 0 {
		return nil
	}
	routine := fixture.NewRoutine(jig)
	var slots []fixture.Slot
	for i := range jig.Checks {
		slots = append(slots, routine.Check(i, samplesValue))
	}
	return []exchange{{routine, func(d fixture.Done) error {
		for i, slot := range slots {
			if err := jigReads(jig, i, d.Resistance(slot)); err != nil {
				return err
			}
		}
		return nil
	}}}
}

// Misread is the error of a jig that does not read its own check resistor.
type Misread struct{ why Said }

func (m *Misread) Error() string { return plainly(m.why) }

func jigReads(jig fixture.Capabilities, i int, got fixture.Resistance) error {
	want := jig.Checks[i]
	band := checkSigmas*math.Hypot(float64(got.U), want.U*float64(want.Ohm)) + checkDrift*float64(want.Ohm)
	if !got.AtLeast && math.Abs(float64(got.Value-want.Ohm)) <= band {
		return nil
	}
	return &Misread{said(JigMisreads, jig.Serial, want.Ohm.String(), got.String(), jig.Ranges[i].Ohm.String())}
}

// seatLimit is the largest loop through two probes and their switches that
// still counts as contact: clean probes are far below an ohm each, so ten ohm
// more than the switches is doubtful (common practice, no source).
func (plan *Plan) seatLimit() quantity.Ohm { return 2*plan.Jig.Switch + 10 }

// beyond is how many channels past the tail are read too: they tell a tail
// that sits beside its place.
const beyond = 2

// loopsPerRoutine keeps the readings of one exchange within a frame.
const loopsPerRoutine = 20

// seating shows that each tail pin touches its channel. Doubtful contact is
// the jig's matter, never the unit's.
func (r *runner) seating(Step) []exchange {
	pins := len(r.plan.Product.Tail)
	channels := min(pins+beyond, r.plan.Jig.Channels)
	var loops []fixture.Resistance
	var out []exchange
	for first := 0; first < channels; first += loopsPerRoutine {
		routine := fixture.NewRoutine(r.plan.Jig)
		count := min(loopsPerRoutine, channels-first)
		for c := range count {
			routine.Loop(first+c, r.plan.loop, samplesGlance)
		}
		out = append(out, exchange{routine, func(d fixture.Done) error {
			for s := range count {
				loops = append(loops, d.Resistance(fixture.Slot(s)))
			}
			if len(loops) < channels {
				return nil
			}
			return r.seated(loops, pins)
		}})
	}
	return out
}

// seated records and judges the loops of all channels.
func (r *runner) seated(loops []fixture.Resistance, pins int) error {
	good := make([]bool, len(loops))
	for c, loop := range loops {
		good[c] = !loop.AtLeast && loop.Value <= r.plan.seatLimit()
		if c < pins {
			r.run.Seats = append(r.run.Seats, Seat{Pin: c + 1, Line: r.plan.Product.Tail[c], Loop: loop, Good: good[c]})
		}
	}
	return r.judgeSeats(good, pins)
}

func (r *runner) judgeSeats(good []bool, pins int) error {
	var bad []string
	for c := range pins {
		if !good[c] && r.plan.Product.Tail[c] != "" {
			bad = append(bad, fmt.Sprintf("pin %d (%s)", c+1, r.plan.Product.Tail[c]))
		}
	}
	if len(bad) == 0 {
		return nil
	}
	if shift := shiftOf(good, pins); shift != 0 {
		return r.stop(Reseat, tailOff(shift), strconv.Itoa(shift))
	}
	if len(bad) == pins {
		return r.stop(Reseat, SeatNone)
	}
	return r.stop(Reseat, SeatDoubtful, strings.Join(bad, ", "))
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

func tailOff(pins int) Code {
	if pins == 1 || pins == -1 {
		return TailOffOne
	}
	return TailOff
}
