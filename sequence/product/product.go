package product

import (
	"fmt"
	"io"
	"os"
	"slices"
	"time"

	"padjig/fixture/quantity"
	"padjig/sequence/fields"
	"padjig/sequence/prove"
)

// The largest product there is. The counts of rows, columns, keys and lines
// are what a jig of 64 channels can reach; one channel serves one tail pin.
const (
	MaxRows    = 32
	MaxColumns = 32
	MaxKeys    = 512
	MaxLines   = 64
	MaxPins    = 64
)

// Product is a keypad as its file defines it, complete and checked.
type Product struct {
	Code, Title, Revision string

	Tail          []string // line name on each tail pin, pin 1 first; "" for an unused pin
	Lines         []Line
	Keys          []Key
	Rows, Columns []int // line indices of the matrix; none for a pad without one

	Test     Test
	Serial   Serial
	Attempts int // runs a unit may have before it is rejected for good
	// RepairLoops is how often a unit may fail again after a repair before an engineer
	// decides about each further test.
	RepairLoops int
	Scanner     *Scanner // what reads the keypad in the field, nil when not stated
	Nominal     Nominal
	Adapters    []string // identities of the jig's adapter that fit the tail; none: whatever is fitted

	References *References // nil when the product demands none
	Fails      Fails
	Stops      Stops
}

// Fails says what must become of a unit that failed before another one is tested
// on the jig. It is the value of the field of that name; empty is the usual.
type Fails string

// What there is.
const (
	TagAndPlace Fails = "tag and place" // its tag is scanned at the fail place: the usual
	FailsFree   Fails = "none"          // nothing: the line has another way to keep them apart
)

// TagsFails reports whether a unit that failed must be put where fails go.
func (p *Product) TagsFails() bool { return p.Fails != FailsFree }

// LineKind says what a line is for.
type LineKind string

// The kinds of line, in the order in which lines are numbered.
const (
	Row    LineKind = "row"
	Column LineKind = "column"
	Direct LineKind = "direct" // one key's own line
	Common LineKind = "common" // return of direct keys
	Shield LineKind = "shield" // must show nothing at all
	Ground LineKind = "ground"
)

// Line is a conductor of the keypad brought out on a tail pin.
type Line struct {
	Name  string
	Kind  LineKind
	Pin   int   // tail pin, from 1
	Track []int // keys in the order in which the track reaches them from the tail
}

// Direction says which way a key's series diode conducts.
type Direction uint8

// The directions, by conventional current.
const (
	NoDiode Direction = iota
	AtoB              // anode towards line A
	BtoA              // anode towards line B
)

// Key is a contact that joins two lines when pressed.
type Key struct {
	Label      string
	A, B       int // line indices, A < B
	Diode      Direction
	X, Y, W, H float64      // place on the drawing in key pitches, from the top left corner
	Group      string       // "" for none
	Actuator   int          // of the jig, from 0
	Contact    quantity.Ohm // nominal resistance of the pressed contact
	Limits     Limits
}

// CentreX is where the middle of the key is from the left.
func (k Key) CentreX() float64 { return k.X + k.W/2 }

// Limits is what a key must keep to. Closed and rest resistances are those
// seen at the tail; closed resistance is without the drop of a series diode.
type Limits struct {
	ClosedMin, ClosedMax   quantity.Ohm
	RestMin                quantity.Ohm  // between the key's lines while it is not pressed
	Make, Break            time.Duration // longest bounce
	ForwardMin, ForwardMax quantity.Volt // drop of the series diode; both 0 without one
	Guard                  float64       // guard band in expanded uncertainties U = 2u; 0 for none
}

// Test bounds what the jig may do to the unit.
type Test struct {
	MaxCurrent quantity.Ampere
	MaxVoltage quantity.Volt // open circuit
	// Rectangles asks for three corners of each rectangle of keys to be held
	// while the fourth is read, which shows a diode that is missing.
	Rectangles bool
	// What a pass has to prove besides what every pass does, and what it may do without,
	// each in the order of [prove.All].
	AlsoRequired, NotRequired []prove.Proof
	// Contact is the current at which contacts have to keep to their limits.
	Contact ContactCurrent
}

// ContactCurrent is the current at which contacts have to keep to their limits: each is
// read at two currents then. The zero value asks for none: a contact is taken as it is read.
type ContactCurrent struct {
	Scanner bool            // what the scanner sends through it
	Stated  quantity.Ampere // where no scanner is stated, else 0
}

// Asked reports whether there is one.
func (c ContactCurrent) Asked() bool { return c != ContactCurrent{} }

// Scanner is the circuit that reads the keypad in the field: a row is pulled
// up, a column is driven low, and the row's voltage is compared with thresholds.
type Scanner struct {
	Supply     quantity.Volt
	PullUp     quantity.Ohm
	Low, High  quantity.Volt // at most Low reads pressed, at least High reads released
	Drive      quantity.Ohm  // output resistance of the driven column
	IdleDriven bool          // columns not being read are driven high rather than left floating

	PullUpTolerance, SupplyTolerance float64 // as parts of the value, 0.05 for 5 %

	Capacitance   quantity.Farad  // of one line to ground, with cable and port
	Settle        time.Duration   // from driving a column to reading the rows
	Period        time.Duration   // from one scan of all columns to the next
	Debounce      time.Duration   // longest bounce it sees through; 0 when not stated
	ShortestPress time.Duration   // that must not be missed
	PortCurrent   quantity.Ampere // rating of the pin that drives a column
}

// MaxSize is the largest product file, in bytes. A keypad of 400 keys takes some
// tens of thousands.
const MaxSize = 256 << 10

// ReadFile reads a product file as far as it may go: of one that is larger, enough
// for [Parse] to see that it is.
func ReadFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, MaxSize+1))
}

// Load reads and checks the product file at path. A file that is wrong gives
// an error of type [Mistakes].
func Load(path string) (*Product, error) {
	text, err := ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read product file: %w", err)
	}
	return Parse(path, text)
}

// Parse is [Load] for text at hand; name stands for the file in mistakes.
func Parse(name string, text []byte) (*Product, error) { return read(name, text, false) }

// ParseKept is [Parse] for a text that was kept when it was in order, such as a release:
// what was renamed since means there what it meant.
func ParseKept(name string, text []byte) (*Product, error) { return read(name, text, true) }

var format = fields.Format{Sentences: sentences, Renamed: []fields.Renaming{
	{Was: formerActuator, Now: actuatorNumber, Refused: "renamed.counted", Separate: true},
	{Was: "closed", Now: "contact resistance", Refused: "renamed"},
	{Was: "rest", Now: "insulation resistance", Refused: "renamed"},
	{Was: "make", Now: "bounce on closing", Refused: "renamed"},
	{Was: "break", Now: "bounce on opening", Refused: "renamed"},
}}

func read(name string, text []byte, kept bool) (*Product, error) {
	s := fields.New(name, text[:min(len(text), MaxSize)], format, kept)
	var p *Product
	if len(text) > MaxSize {
		s.Wrong(fields.Place{Line: 1, Column: 1}, "file.large", MaxSize>>10)
	} else if root, ok := s.Root(); ok {
		p = build(root)
	}
	if len(s.Found) > 0 {
		return nil, s.Found.Sorted()
	}
	return p, nil
}

// Key gives the index of the key so labelled, -1 when there is none.
func (p *Product) Key(label string) int {
	return slices.IndexFunc(p.Keys, func(k Key) bool { return k.Label == label })
}

// Line gives the index of the line so named, -1 when there is none.
func (p *Product) Line(name string) int { return lineIndex(p.Lines, name) }
