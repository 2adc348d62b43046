package calibrate

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/refbox"
)

const (
	// reach is how far from its reference resistor a range is checked: beyond,
	// another range reads better.
	reach = 10
	// limitInU is the limit of a deviation in expanded uncertainties (k = 2) of
	// the jig's own reading. A jig that is as good as it says stays inside in
	// all but 6 of 100,000 readings (4 standard uncertainties, two-sided
	// normal, computed), so that fifteen of them raise no false alarm.
	limitInU = 2
	// leastRatio is how many times the expanded uncertainty of a certified
	// resistor must go into the limit: 4 to 1 is what the trade asks of a
	// standard (common practice, no source seen).
	leastRatio = 4
	// gross is more than any resistor in use drifts (common practice, no
	// source): it is another resistor, or none.
	gross = 0.05
	// opened is how many times its value a resistor reads when it is not there.
	opened = 10
)

// Verify checks each range of a jig against the resistors of a box that lie
// within ten times its reference resistor, either way. The zero of the jig
// must have been set. The limit of each deviation is twice the expanded
// uncertainty that the jig states of its reading.
//
// What is seen is put to the proof of three explanations before the jig is
// blamed: see [explain]. A box that is not in place, is not the one named,
// does not suit the jig or has an expired certificate is an error.
func Verify(ctx context.Context, jig sequence.Jig, caps fixture.Capabilities, box *refbox.Box, when Occasion) (sequence.Calibration, error) {
	c, err := verify(ctx, jig, caps, box, when)
	if err != nil {
		return sequence.Calibration{}, fmt.Errorf("verify jig %s with box %s: %w", caps.Serial, box, err)
	}
	return c, nil
}

func verify(ctx context.Context, jig sequence.Jig, caps fixture.Capabilities, box *refbox.Box, when Occasion) (sequence.Calibration, error) {
	if box.Expired(when.Now) || box.Expired(when.Surely) {
		return sequence.Calibration{}, &remedied{fmt.Errorf("%w: %s held until %s", ErrExpired, box.Certificate, box.Due.Format(time.DateOnly)),
			"have the box calibrated, or use another"}
	}
	pairs, resistors, err := comparisons(caps, box)
	if err != nil {
		return sequence.Calibration{}, err
	}
	self, err := readItself(ctx, jig, caps, box.Highest())
	if err != nil {
		return sequence.Calibration{}, err
	}
	if err := readPairs(ctx, jig, caps, self.Own, pairs); err != nil {
		return sequence.Calibration{}, err
	}
	if err := recognise(box, pairs, resistors); err != nil {
		return sequence.Calibration{}, err
	}
	if err := doubted(caps, self.Own); err != nil {
		return sequence.Calibration{}, err
	}
	c := when.blank(sequence.KindVerify, caps)
	c.Box, c.BoxSerial, c.Certificate, c.CertificateDue = box.Name, box.Serial, box.Certificate, box.Due
	c.SelfTest = self
	for i, p := range pairs {
		r, err := compare(caps, p, resistors[i])
		if err != nil {
			return sequence.Calibration{}, err
		}
		c.Readings = append(c.Readings, r)
	}
	err = conclude(&c, caps)
	disturbed := slices.ContainsFunc(pairs, func(p pairReading) bool { return p.disturbed })
	if disturbed && (err != nil || !c.Good) { // blames neither jig nor box
		return sequence.Calibration{}, doubtful("readings are out, and mains or something else is on the lines")
	}
	return c, err
}

// comparisons plans the readings: every range with each resistor in its reach.
func comparisons(caps fixture.Capabilities, box *refbox.Box) (pairs []pairReading, of []refbox.Resistor, err error) {
	if top := box.Highest(); top > caps.Channels {
		return nil, nil, &remedied{fmt.Errorf("%w: it has a resistor on pin %d, the jig %d channels", ErrUnfitBox, top, caps.Channels),
			"use a smaller box"}
	}
	for rng, ref := range caps.Ranges {
		before := len(pairs)
		for _, r := range box.Resistors {
			if ratio := float64(r.Ohm / ref.Ohm); ratio >= 1.0/reach && ratio <= reach {
				feed, ground := lighterFirst(box, r)
				pairs = append(pairs, pairReading{
					a: feed - 1, b: ground - 1, rng: rng, wait: settleBox(caps, box, ref.Ohm+r.Ohm),
				})
				of = append(of, r)
			}
		}
		if len(pairs) == before {
			return nil, nil, &remedied{fmt.Errorf("%w: it has no resistor from %v to %v to check range %d (%v) with",
				ErrUnfitBox, ref.Ohm/reach, ref.Ohm*reach, rng+1, ref.Ohm), "use a box that has"}
		}
	}
	return pairs, of, nil
}

// lighterFirst gives the pins of a resistor, first the one with fewer others
// behind it. That one is fed: what hangs on it draws current into the inputs
// of its channels, which goes through the reference resistor and not through
// the one that is read. What hangs on the grounded pin draws none.
func lighterFirst(box *refbox.Box, r refbox.Resistor) (feed, ground int) {
	if len(behind(box, r.Pins[0], r)) <= len(behind(box, r.Pins[1], r)) {
		return r.Pins[0], r.Pins[1]
	}
	return r.Pins[1], r.Pins[0]
}

// behind lists the pins that hang on a pin without the resistor r: the box has
// no loops, so it is a tree that is walked.
func behind(box *refbox.Box, pin int, r refbox.Resistor) []int {
	var pins []int
	for _, next := range box.Resistors {
		for end := range next.Pins {
			if next.Name != r.Name && next.Pins[end] == pin {
				other := next.Pins[1-end]
				pins = append(append(pins, other), behind(box, other, next)...)
			}
		}
	}
	return pins
}

// settleBox is seven time constants of the loop with the capacitance of every
// channel of the box: those that float are charged through its resistors.
func settleBox(caps fixture.Capabilities, box *refbox.Box, loop quantity.Ohm) time.Duration {
	tau := float64(loop) * caps.LineFarad * float64(box.Highest())
	return time.Duration(7 * tau * float64(time.Second))
}

// recognise says whether it is the box that lies in the nest, by looking for
// what no drift makes of its resistors.
func recognise(box *refbox.Box, pairs []pairReading, of []refbox.Resistor) error {
	var open []string
	var other error
	for i, p := range pairs {
		r := of[i]
		switch {
		case p.got.AtLeast || p.got.Value > opened*r.Ohm:
			open = append(open, fmt.Sprintf("%d-%d", r.Pins[0], r.Pins[1]))
		case other == nil && math.Abs(float64(p.got.Value/r.Ohm-1)) > gross:
			other = &remedied{fmt.Errorf("%w: between pins %d and %d there are %v, and %s has %v there",
				ErrOtherBox, r.Pins[0], r.Pins[1], p.got, box.Name, r.Ohm), "read the label on the box and name its own file"}
		}
	}
	switch {
	case len(open) == len(pairs):
		return &remedied{fmt.Errorf("%w: every pair of pins is open", ErrNoBox), "put the box in and close the nest, then verify again"}
	case other != nil:
		return other
	case len(open) > 0:
		return &remedied{fmt.Errorf("%w: open between pins %s", ErrNoBox, strings.Join(open, ", ")),
			"push it fully in and verify again, and if that does not help it is another box, or a resistor in it has failed"}
	}
	return nil
}

func compare(caps fixture.Capabilities, p pairReading, of refbox.Resistor) (sequence.CalibrationReading, error) {
	r := sequence.CalibrationReading{
		Channel: of.Pins[0], Mate: of.Pins[1], Resistor: of.Name, Reference: caps.Ranges[p.rng].Ohm,
		Certified: fixture.Resistance{Value: of.Ohm, U: of.U}, Measured: p.got,
		Limit: limitInU * 2 * p.got.U,
	}
	if 2*of.U*leastRatio > r.Limit {
		return r, &remedied{fmt.Errorf("%w: resistor %s is certified to %v (k = 2), which is more than a quarter of the limit of %v",
			ErrUnfitBox, of.Name, 2*of.U, r.Limit), "use a better one"}
	}
	return judged(r), nil
}

// conclude judges all readings together.
func conclude(c *sequence.Calibration, caps fixture.Capabilities) error {
	c.Good = true
	for _, r := range c.Readings {
		c.Good = c.Good && r.Good
	}
	if c.Good {
		return nil
	}
	cause := explain(c.Readings, caps)
	if cause.kind == resistorsDiffer {
		return &remedied{fmt.Errorf("%w: its resistors differ from the certificate, each by the same on every range (%s)",
			ErrOtherBox, cause.where), "read the serial number on the box and name its own file"}
	}
	c.Reason = cause.where
	return nil
}

func rootSum(values ...float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v * v
	}
	return math.Sqrt(sum)
}
