// Package calibrate looks after jigs: it zeroes them, verifies them against a reference box,
// and judges what they make of reference units.
package calibrate

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
)

// judged is a comparison with what it comes to.
func judged(r sequence.CalibrationReading) sequence.CalibrationReading {
	r.Deviation = fixture.Resistance{
		Value: r.Measured.Value - r.Certified.Value,
		U:     quantity.Ohm(math.Hypot(float64(r.Measured.U), float64(r.Certified.U))),
	}
	r.Good = math.Abs(float64(r.Deviation.Value)) <= float64(r.Limit)
	return r
}

// Conditions that keep a calibration from saying anything of the jig. The
// errors that wrap them name what to do.
var (
	// Each comes with what to do about it: [RemedyOf].

	// ErrNoPlug is returned when the shorting plug is out, or only partly in.
	ErrNoPlug = errors.New("the shorting plug is not in place")
	// ErrNoBox is returned when the reference box is out, or only partly in.
	ErrNoBox = errors.New("the reference box is not in place")
	// ErrOtherBox is returned when what lies in the nest is not the box named.
	ErrOtherBox = errors.New("what lies in the nest is not the reference box named")
	// ErrUnfitBox is returned for a box that cannot verify this jig.
	ErrUnfitBox = errors.New("the reference box does not suit the jig")
	// ErrDoubtful is returned for a jig that reads of itself what it leaves no room for.
	ErrDoubtful = errors.New("measurement doubtful")
	// ErrExpired is returned for a box whose certificate no longer holds.
	ErrExpired = errors.New("the certificate of the reference box has expired")
)

// remedied is an error with what a person can do about it.
type remedied struct {
	error
	remedy string
}

func (r *remedied) Unwrap() error { return r.error }

// RemedyOf is what a person can do about an error of a calibration; empty where that
// is not known.
func RemedyOf(err error) string {
	if r, is := errors.AsType[*remedied](err); is {
		return r.remedy
	}
	return ""
}

// Occasion is when, by whom and for how long a calibration is taken.
type Occasion struct {
	Now      time.Time // wall clock
	Surely   time.Time // it is no earlier, whatever that clock says; zero: nothing is known
	Operator string
	Interval time.Duration
}

func (o Occasion) blank(kind sequence.CalibrationKind, caps fixture.Capabilities) sequence.Calibration {
	return sequence.Calibration{
		Kind: kind, Jig: sequence.NameOf(caps), Simulated: caps.Simulated,
		Operator: o.Operator, Performed: o.Now.UTC(), Interval: o.Interval,
	}
}

// pairReading is one reading of a calibration, by channels from 0.
type pairReading struct {
	a, b, rng int
	wait      time.Duration // beyond the jig's own settling
	got       fixture.Resistance
	disturbed bool
}

// calibrationSamples makes the noise of one reading small beside the rest.
const calibrationSamples = 128

// readItself is what the jig reads of itself, with the inputs of its first channels.
func readItself(ctx context.Context, jig sequence.Jig, caps fixture.Capabilities, channels int) (*sequence.SelfTest, error) {
	var self sequence.SelfTest
	stage := fixture.Stage{Patient: true}
	for c := range channels {
		stage.Feed = append(stage.Feed, c)
	}
	checking := sequence.CheckItself(caps, stage, calibrationSamples)
	err := jig.Perform(ctx, []*fixture.Routine{checking.Routine}, func(_ int, d fixture.Done) error {
		_, self = checking.Read(d)
		return nil
	})
	return &self, err
}

// doubted is the error of a jig that reads of itself what it does not state, once it is known
// that what lies in the nest is right: anything else there loads its inputs too.
func doubted(caps fixture.Capabilities, own fixture.Own) error {
	for _, doubt := range own.Doubts(caps) {
		return doubtful(fmt.Sprintf("%v: the jig reads of itself what it does not state", doubt))
	}
	return nil
}

func doubtful(why string) error {
	return &remedied{fmt.Errorf("%w: %s", ErrDoubtful, why),
		"keep mains leads and motors away, clean and dry the nest, then once more; else have the fixture engineer look at it"}
}

// readPairs takes the readings, all other channels floating, corrected by what the jig has read
// of itself, and leaves it inert.
func readPairs(ctx context.Context, jig sequence.Jig, caps fixture.Capabilities, own fixture.Own, pairs []pairReading) error {
	var routines []*fixture.Routine
	var slots []fixture.Slot
	in := map[int]bool{}
	for _, p := range pairs {
		in[p.a], in[p.b] = true, true
	}
	for _, p := range pairs {
		r, patient := fixture.NewRoutine(caps), caps.Ranges[p.rng].Ohm >= fixture.PatientFrom
		r.Stage(fixture.Stage{Range: p.rng, Feed: []int{p.a}, Ground: []int{p.b}, Patient: patient, Behind: len(in) - 2})
		if p.wait > 0 {
			r.Wait(max(p.wait, caps.Aside()))
		}
		if patient {
			slots = append(slots, r.Steady(p.a, p.b))
		} else {
			slots = append(slots, r.Read(p.a, p.b, calibrationSamples))
		}
		routines = append(routines, r)
	}
	err := jig.Perform(ctx, routines, func(i int, d fixture.Done) error {
		d = d.Knowing(own)
		pairs[i].got, pairs[i].disturbed = d.Resistance(slots[i]), d.Disturbed(slots[i])
		return nil
	})
	return errors.Join(err, sequence.MakeInert(ctx, jig))
}
