package sequence

import (
	"context"
	"errors"
	"math"
	"slices"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence/refbox"
)

// CalibrationKind is what a calibration is for.
type CalibrationKind string

// The kinds. A zero is taken first: what it finds is taken off every reading
// of the verification.
const (
	KindZero   CalibrationKind = "zero"   // the resistance in series with each channel, with a shorting plug
	KindVerify CalibrationKind = "verify" // each range against the certified resistors of a reference box
)

// Word is the kind as a noun.
func (k CalibrationKind) Word() string {
	if k == KindVerify {
		return "verification"
	}
	return string(k)
}

// How long a calibration holds unless somebody says otherwise (common
// practice, no source): contacts change with every mating, resistors hardly.
const (
	ZeroInterval   = 7 * 24 * time.Hour
	VerifyInterval = 90 * 24 * time.Hour
)

// Calibration is a zero or a verification of a jig that was carried out to its
// end. One that is not good says that the jig is not; whatever keeps a
// calibration from saying anything of the jig is an error instead.
type Calibration struct {
	Kind           CalibrationKind
	Jig            JigName
	Simulated      bool
	Operator       string
	Performed      time.Time // wall clock, UTC
	Interval       time.Duration
	Box, BoxSerial string // of a verification, as the next two
	Certificate    string
	CertificateDue time.Time
	Readings       []CalibrationReading
	Good           bool
	Reason         string // why it is not good, empty if it is
}

// Due is when the next one of its kind is to be taken.
func (c Calibration) Due() time.Time { return c.Performed.Add(c.Interval) }

// Zeros are the resistances in series with the channels, as
// [fixture.Jig.SetZero] takes them; nil for a verification.
func (c Calibration) Zeros() []fixture.Resistance {
	if c.Kind != KindZero {
		return nil
	}
	zeros := make([]fixture.Resistance, len(c.Readings))
	for i, r := range c.Readings {
		zeros[i] = r.Measured
	}
	return zeros
}

// CalibrationReading is one comparison. All but its channel and values is
// empty for a zero, whose certified value is none.
type CalibrationReading struct {
	Channel   int // from 1, as the pin above it
	Mate      int // the other one of a pair, 0 for a zero
	Resistor  string
	Reference quantity.Ohm       // nominal value of the range
	Certified fixture.Resistance // from the certificate
	Measured  fixture.Resistance
	Deviation fixture.Resistance // measured less certified, with the uncertainty of both
	Limit     quantity.Ohm       // of the deviation, either way
	Good      bool
}

// Relative is the deviation as a part of the certified value; not for a zero.
func (r CalibrationReading) Relative() float64 {
	return float64(r.Deviation.Value) / float64(r.Certified.Value)
}

func (r *CalibrationReading) judge() {
	r.Deviation = fixture.Resistance{
		Value: r.Measured.Value - r.Certified.Value,
		U:     quantity.Ohm(math.Hypot(float64(r.Measured.U), float64(r.Certified.U))),
	}
	r.Good = math.Abs(float64(r.Deviation.Value)) <= float64(r.Limit)
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
	var r *remedied
	if errors.As(err, &r) {
		return r.remedy
	}
	return ""
}

// Occasion is when, by whom and for how long a calibration is taken.
type Occasion struct {
	Now      time.Time // wall clock
	Operator string
	Interval time.Duration
}

func (o Occasion) blank(kind CalibrationKind, caps fixture.Capabilities) Calibration {
	return Calibration{
		Kind: kind, Jig: JigName{caps.Serial, caps.Model, caps.Firmware, caps.Adapter}, Simulated: caps.Simulated,
		Operator: o.Operator, Performed: o.Now.UTC(), Interval: o.Interval,
	}
}

// pairReading is one reading of a calibration, by channels from 0.
type pairReading struct {
	a, b, rng int
	wait      time.Duration // beyond the jig's own settling
	got       fixture.Resistance
}

// calibrationSamples makes the noise of one reading small beside the rest.
const calibrationSamples = 128

// readPairs takes the readings, all other channels floating, and leaves the jig inert.
func readPairs(ctx context.Context, jig Jig, caps fixture.Capabilities, pairs []pairReading) error {
	var routines []*fixture.Routine
	for _, p := range pairs {
		r := fixture.NewRoutine(caps)
		r.Stage(fixture.Stage{Range: p.rng, Feed: []int{p.a}, Ground: []int{p.b}})
		if p.wait > 0 {
			r.Wait(p.wait)
		}
		r.Read(p.a, p.b, calibrationSamples)
		routines = append(routines, r)
	}
	err := jig.Perform(ctx, routines, func(i int, d fixture.Done) error {
		pairs[i].got = d.Resistance(0)
		return nil
	})
	return errors.Join(err, makeInert(ctx, jig))
}

// certificateOf copies what the records keep of the box.
func (c *Calibration) certificateOf(box *refbox.Box) {
	c.Box, c.BoxSerial, c.Certificate, c.CertificateDue = box.Name, box.Serial, box.Certificate, box.Due
}

// RangeCheck sums up what a verification found of one range.
type RangeCheck struct {
	Reference quantity.Ohm // nominal
	Deviation float64      // mean of the readings, relative to the certified values
	U         float64      // expanded uncertainty of the best reading, relative, k = 2
	Limit     float64      // of the best reading, relative
	Good      bool         // every reading inside its limit
}

// Ranges sums a verification up by range, in their order; none for a zero.
func (c Calibration) Ranges() []RangeCheck {
	if c.Kind != KindVerify {
		return nil
	}
	var all []RangeCheck
	for _, r := range c.Readings {
		if i := len(all) - 1; i < 0 || all[i].Reference != r.Reference {
			all = append(all, c.rangeCheck(r.Reference))
		}
	}
	return all
}

func (c Calibration) rangeCheck(reference quantity.Ohm) RangeCheck {
	check := RangeCheck{Reference: reference, Good: true, U: math.Inf(1)}
	n := 0.0
	for _, r := range c.Readings {
		if r.Reference != reference {
			continue
		}
		n++
		check.Deviation += r.Relative()
		check.Good = check.Good && r.Good
		if u := 2 * float64(r.Deviation.U/r.Certified.Value); u < check.U {
			check.U, check.Limit = u, float64(r.Limit/r.Certified.Value)
		}
	}
	check.Deviation /= n
	return check
}

// ChannelCheck sums up what a calibration found of one channel.
type ChannelCheck struct {
	Channel int // from 1
	Worst   CalibrationReading
}

// Channels gives the reading of each channel that comes nearest to its limit,
// in their order. A channel that the box does not touch is not among them.
func (c Calibration) Channels() []ChannelCheck {
	var all []ChannelCheck
	for _, channel := range touched(c.Readings) {
		check := ChannelCheck{Channel: channel}
		for _, r := range c.Readings {
			if r.on(channel) && (check.Worst.Channel == 0 || r.share() > check.Worst.share()) {
				check.Worst = r
			}
		}
		all = append(all, check)
	}
	return all
}

// share is the part of its limit that the deviation takes up.
func (r CalibrationReading) share() float64 { return math.Abs(float64(r.Deviation.Value / r.Limit)) }

func (r CalibrationReading) on(channel int) bool { return r.Channel == channel || r.Mate == channel }

// touched lists the channels that readings are about.
func touched(readings []CalibrationReading) []int {
	var channels []int
	for _, r := range readings {
		channels = append(channels, r.Channel, r.Mate)
	}
	slices.Sort(channels)
	channels = slices.Compact(channels)
	return slices.DeleteFunc(channels, func(c int) bool { return c == 0 }) // a zero has no mate
}
