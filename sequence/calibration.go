package sequence

import (
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
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
	Reason         string    // why it is not good, empty if it is
	SelfTest       *SelfTest // of a verification: what the jig read of itself then; nil: not kept
}

// Due is when the next one of its kind is to be taken.
func (c Calibration) Due() time.Time { return c.Performed.Add(c.Interval) }

// Zeros are the resistances in series with the channels, as
// [fixture.Jig.Zeroed] takes them; nil for a verification.
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
