// Package refbox reads the description of a reference box: certified resistors
// between pins of the nest, against which a jig is verified.
//
// A box is described by a small YAML file, made once from the certificate:
//
//	box: RB-1
//	serial: RB-1-0007
//	certificate: DEMO-2026-0418
//	issued: 2026-04-18
//	due: 2027-04-18
//	resistors:
//	  A: {pins: 1 2, value: 100.003 ohm, uncertainty: 5 mohm, k: 2}
//
// Pins are counted from 1, as those of a keypad's tail: pin 1 lies on the
// jig's first channel. The uncertainty is the expanded one of the certificate
// with its coverage factor k, 2 unless said otherwise. Resistors may share a
// pin, and a chain of them touches every channel it passes; what they may not
// do is close a loop, because each is read with all other pins floating and
// must then be the only way between its two. In a chain the largest belong at
// the ends: the inputs of all channels behind a resistor load its reading.
//
// Everything wrong with a file is found at once, as [Mistakes] with line and
// column.
package refbox

import (
	"fmt"
	"io"
	"os"
	"time"

	"padjig/fixture/quantity"
	"padjig/sequence/fields"
)

// Box is a reference box with its certificate.
type Box struct {
	Name        string // the type, and what is written on it
	Serial      string
	Certificate string // its number
	Issued      time.Time
	Due         time.Time // the last day on which the certificate holds
	Resistors   []Resistor
}

// Resistor is one certified resistor.
type Resistor struct {
	Name string
	Pins [2]int // counted from 1
	Ohm  quantity.Ohm
	U    quantity.Ohm // standard uncertainty, the certificate's divided by its k
}

// Expired reports whether the certificate no longer holds at t. It holds to
// the end of its last day, in UTC.
func (b *Box) Expired(t time.Time) bool { return !t.Before(b.Due.AddDate(0, 0, 1)) }

// Highest is the highest pin that a resistor is on.
func (b *Box) Highest() int {
	top := 0
	for _, r := range b.Resistors {
		top = max(top, r.Pins[0], r.Pins[1])
	}
	return top
}

// String is how a person finds the box: name and serial number.
func (b *Box) String() string { return fmt.Sprintf("%s (serial %s)", b.Name, b.Serial) }

// MaxSize is the largest box file, in bytes.
const MaxSize = 64 << 10

// Load reads the file at path; see [Parse].
func Load(path string) (*Box, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read box file: %w", err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, MaxSize+1)) // of a larger one enough to see that it is
	if err != nil {
		return nil, fmt.Errorf("read box file: %w", err)
	}
	return Parse(path, text)
}

// Mistakes is everything wrong with a box file, in the order of the file.
type Mistakes = fields.Mistakes
