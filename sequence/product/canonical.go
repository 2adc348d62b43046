package product

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"strconv"

	"padjig/fixture/quantity"
	"padjig/sequence/prove"
)

// Hash names the meaning of the product: the SHA-256 of [Product.Canonical] in
// hexadecimal.
func (p *Product) Hash() string {
	sum := sha256.Sum256(p.Canonical())
	return hex.EncodeToString(sum[:])
}

// Canonical gives the meaning of the product as JSON, the same bytes for the
// same meaning: everything that is tested or drawn, with defaults filled in,
// in SI units with twelve significant digits. Title and revision label are
// not part of it.
func (p *Product) Canonical() []byte {
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	if err := e.Encode(p.meaning()); err != nil {
		panic(fmt.Sprintf("product %s: encode: %v", p.Code, err)) // only numbers and strings are in it
	}
	return bytes.TrimSpace(text.Bytes())
}

// number is written with twelve digits: "300 mV" and "0.3 V" mean the same
// though their last bits may differ.
type number float64

func (n number) MarshalJSON() ([]byte, error) {
	return strconv.AppendFloat(nil, float64(n), 'g', 12, 64), nil
}

type meaning struct {
	Format   int             `json:"format"` // of this encoding
	Product  string          `json:"product"`
	Tail     []string        `json:"tail"`
	Lines    []lineMeaning   `json:"lines"`
	Keys     []keyMeaning    `json:"keys"`
	Test     testMeaning     `json:"test"`
	Nominal  nominalMeaning  `json:"nominal"`
	Scanner  *scannerMeaning `json:"scanner,omitempty"`
	Serial   serialMeaning   `json:"serial"`
	Attempts int             `json:"attempts"`
	Loops    int             `json:"repair_loops,omitempty"` // where it is not the usual number

	References *referencesMeaning `json:"references,omitempty"`

	// Fails came later and is absent where it is as usual, so that a file without it
	// keeps its hash.
	Fails    Fails         `json:"fails,omitempty"`
	Stops    *stopsMeaning `json:"stops,omitempty"` // where they are not as usual
	Adapters []string      `json:"adapters,omitempty"`
}

type referencesMeaning struct {
	Every  number    `json:"every_s"`
	Units  int       `json:"units"`
	Within number    `json:"within"`
	Good   []string  `json:"good"`
	Bad    []BadUnit `json:"bad,omitempty"`
}

type lineMeaning struct {
	Name  string   `json:"name"`
	Kind  LineKind `json:"kind"`
	Track []string `json:"track"`
}

type keyMeaning struct {
	Label    string        `json:"label"`
	Lines    [2]string     `json:"lines"`
	Diode    string        `json:"diode,omitempty"`
	Place    [4]number     `json:"place"`
	Group    string        `json:"group,omitempty"`
	Actuator int           `json:"actuator"`
	Contact  number        `json:"contact_ohm"`
	Limits   limitsMeaning `json:"limits"`
}

type limitsMeaning struct {
	Closed  [2]number  `json:"closed_ohm"`
	Rest    number     `json:"rest_ohm"`
	Make    number     `json:"make_s"`
	Break   number     `json:"break_s"`
	Forward *[2]number `json:"diode_v,omitempty"`
	Guard   number     `json:"guard_u"`
}

type testMeaning struct {
	Current    number `json:"current_a"`
	Voltage    number `json:"voltage_v"`
	Rectangles bool   `json:"rectangles"`

	// Absent where a pass proves what it usually does.
	AlsoRequired []prove.Proof `json:"also_required,omitempty"`
	NotRequired  []prove.Proof `json:"not_required,omitempty"`

	// Absent where contacts are taken as they are read.
	ContactCurrent *contactMeaning `json:"contact_current,omitempty"`
}

type contactMeaning struct {
	Scanner bool   `json:"scanner"`
	Stated  number `json:"stated_a"`
}

func contactMeaningOf(c ContactCurrent) *contactMeaning {
	if !c.Asked() {
		return nil
	}
	return &contactMeaning{c.Scanner, number(c.Stated)}
}

func (m *contactMeaning) contact() ContactCurrent {
	if m == nil {
		return ContactCurrent{}
	}
	return ContactCurrent{m.Scanner, quantity.Ampere(m.Stated)}
}

type nominalMeaning struct {
	Contact number    `json:"contact_ohm"`
	Track   number    `json:"track_ohm"`
	Tail    number    `json:"tail_ohm"`
	Diode   [3]number `json:"diode_a_n_ohm"`
}

type scannerMeaning struct {
	Supply number `json:"supply_v"`
	PullUp number `json:"pull_up_ohm"`
	Low    number `json:"low_v"`
	High   number `json:"high_v"`
	Drive  number `json:"drive_ohm"`
	Idle   string `json:"idle_columns"`

	// The following came later and are absent where they are as usual, so that
	// a file without them keeps its hash.
	PullUpTolerance *number `json:"pull_up_tolerance,omitempty"`
	SupplyTolerance *number `json:"supply_tolerance,omitempty"`
	Capacitance     *number `json:"line_capacitance_f,omitempty"`
	Settle          *number `json:"settle_s,omitempty"`
	Period          *number `json:"period_s,omitempty"`
	Debounce        *number `json:"debounce_s,omitempty"`
	ShortestPress   *number `json:"shortest_press_s,omitempty"`
	PortCurrent     *number `json:"port_current_a,omitempty"`
}

type serialMeaning struct {
	Format string `json:"format,omitempty"`
	Check  string `json:"check,omitempty"`
}

func (p *Product) meaning() meaning {
	n := p.Nominal
	m := meaning{
		Format: 1, Product: p.Code, Tail: p.Tail, Attempts: p.Attempts, Adapters: p.Adapters,
		Test: testMeaning{
			number(p.Test.MaxCurrent), number(p.Test.MaxVoltage), p.Test.Rectangles, p.Test.AlsoRequired, p.Test.NotRequired,
			contactMeaningOf(p.Test.Contact),
		},
		Serial: serialMeaning{p.Serial.Format, p.Serial.CheckSystem},
		Stops:  stopsMeaningOf(p.Stops),
		Nominal: nominalMeaning{number(n.Contact), number(n.Track), number(n.Tail),
			[3]number{number(n.Diode.Is), number(n.Diode.N), number(n.Diode.Rs)}},
	}
	for _, l := range p.Lines {
		track := make([]string, len(l.Track))
		for i, k := range l.Track {
			track[i] = p.Keys[k].Label
		}
		m.Lines = append(m.Lines, lineMeaning{l.Name, l.Kind, track})
	}
	for _, k := range p.Keys {
		m.Keys = append(m.Keys, p.keyMeaning(k))
	}
	if p.RepairLoops != usualLoops {
		m.Loops = p.RepairLoops
	}
	if p.Scanner != nil {
		m.Scanner = scannerMeaningOf(*p.Scanner)
	}
	if p.Fails != TagAndPlace {
		m.Fails = p.Fails
	}
	if r := p.References; r != nil {
		m.References = &referencesMeaning{number(r.Every.Seconds()), r.Units, number(r.Within), r.Good, r.Bad}
	}
	return m
}

func scannerMeaningOf(s Scanner) *scannerMeaning {
	idle, usual := map[bool]string{false: "float", true: "driven"}[s.IdleDriven], usualScanner
	return &scannerMeaning{
		Supply: number(s.Supply), PullUp: number(s.PullUp), Low: number(s.Low), High: number(s.High),
		Drive: number(s.Drive), Idle: idle,
		PullUpTolerance: unless(s.PullUpTolerance, usual.PullUpTolerance),
		SupplyTolerance: unless(s.SupplyTolerance, usual.SupplyTolerance),
		Capacitance:     unless(float64(s.Capacitance), float64(usual.Capacitance)),
		Settle:          unless(s.Settle.Seconds(), usual.Settle.Seconds()),
		Period:          unless(s.Period.Seconds(), usual.Period.Seconds()),
		Debounce:        unless(s.Debounce.Seconds(), usual.Debounce.Seconds()),
		ShortestPress:   unless(s.ShortestPress.Seconds(), usual.ShortestPress.Seconds()),
		PortCurrent:     unless(float64(s.PortCurrent), float64(usual.PortCurrent)),
	}
}

// unless is v, or nothing where twelve digits show no difference from the usual.
func unless(v, usual float64) *number {
	if math.Abs(v-usual) <= 1e-12*math.Abs(usual) {
		return nil
	}
	return new(number(v))
}

func (p *Product) keyMeaning(k Key) keyMeaning {
	l := k.Limits
	m := keyMeaning{
		Label: k.Label, Lines: [2]string{p.Lines[k.A].Name, p.Lines[k.B].Name}, Group: k.Group,
		Actuator: k.Actuator,
		Place:    [4]number{number(k.X), number(k.Y), number(k.W), number(k.H)}, Contact: number(k.Contact),
		Limits: limitsMeaning{
			Closed: [2]number{number(l.ClosedMin), number(l.ClosedMax)}, Rest: number(l.RestMin),
			Make: number(l.Make.Seconds()), Break: number(l.Break.Seconds()), Guard: number(l.Guard),
		},
	}
	if k.Diode != NoDiode {
		m.Limits.Forward = &[2]number{number(l.ForwardMin), number(l.ForwardMax)}
		m.Diode = m.Lines[0] + " to " + m.Lines[1]
		if k.Diode == BtoA {
			m.Diode = m.Lines[1] + " to " + m.Lines[0]
		}
	}
	return m
}
