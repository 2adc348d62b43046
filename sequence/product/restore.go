package product

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/fixture/circuit"
	"padjig/fixture/quantity"
)

// Restore gives back the product of which definition is the [Product.Canonical]: what a
// record of years ago was about, whatever has become of its file. Title and revision are
// not part of the definition. The error says that definition is none, or one of a format
// to come.
func Restore(definition []byte, title, revision string) (*Product, error) {
	var m meaning
	if err := json.Unmarshal(definition, &m); err != nil {
		return nil, fmt.Errorf("read product definition: %w", err)
	}
	if m.Format != 1 {
		return nil, fmt.Errorf("read product definition: it has format %d, this program knows 1", m.Format)
	}
	r := restorer{m: &m, p: &Product{
		Code: m.Product, Title: title, Revision: revision, Tail: m.Tail, Attempts: m.Attempts, Adapters: m.Adapters,
		RepairLoops: cmp.Or(m.Loops, usualLoops),
		Test: Test{
			quantity.Ampere(m.Test.Current), quantity.Volt(m.Test.Voltage), m.Test.Rectangles, m.Test.AlsoRequired,
			m.Test.NotRequired, m.Test.ContactCurrent.contact(),
		},
		Serial: Serial{Format: m.Serial.Format, CheckSystem: m.Serial.Check}, Fails: cmp.Or(m.Fails, TagAndPlace),
		Stops: m.Stops.stops(),
		Nominal: Nominal{
			Contact: quantity.Ohm(m.Nominal.Contact), Track: quantity.Ohm(m.Nominal.Track), Tail: quantity.Ohm(m.Nominal.Tail),
			Diode: circuit.Diode{
				Is: quantity.Ampere(m.Nominal.Diode[0]), N: float64(m.Nominal.Diode[1]), Rs: quantity.Ohm(m.Nominal.Diode[2]),
			},
		},
	}}
	if err := r.wire(); err != nil {
		return nil, fmt.Errorf("read product definition: %w", err)
	}
	r.around()
	return r.p, nil
}

type restorer struct {
	m *meaning
	p *Product
}

// wire puts back lines and keys, and the tracks that join them.
func (r *restorer) wire() error {
	for i, l := range r.m.Lines {
		r.p.Lines = append(r.p.Lines, Line{Name: l.Name, Kind: l.Kind, Pin: 1 + slices.Index(r.m.Tail, l.Name)})
		switch l.Kind {
		case Row:
			r.p.Rows = append(r.p.Rows, i)
		case Column:
			r.p.Columns = append(r.p.Columns, i)
		}
	}
	for _, k := range r.m.Keys {
		key, err := r.key(k)
		if err != nil {
			return err
		}
		r.p.Keys = append(r.p.Keys, key)
	}
	for i, l := range r.m.Lines {
		for _, label := range l.Track {
			k := r.p.Key(label)
			if k < 0 {
				return fmt.Errorf("the track of %s reaches key %q, which there is not", l.Name, label)
			}
			r.p.Lines[i].Track = append(r.p.Lines[i].Track, k)
		}
	}
	return nil
}

func (r *restorer) key(k keyMeaning) (Key, error) {
	a, b := r.p.Line(k.Lines[0]), r.p.Line(k.Lines[1])
	if a < 0 || b < 0 {
		return Key{}, fmt.Errorf("key %q joins lines %s and %s, not both of which there are", k.Label, k.Lines[0], k.Lines[1])
	}
	l := k.Limits
	key := Key{
		Label: k.Label, A: a, B: b, Group: k.Group, Actuator: k.Actuator, Contact: quantity.Ohm(k.Contact),
		X: float64(k.Place[0]), Y: float64(k.Place[1]), W: float64(k.Place[2]), H: float64(k.Place[3]),
		Limits: Limits{
			ClosedMin: quantity.Ohm(l.Closed[0]), ClosedMax: quantity.Ohm(l.Closed[1]), RestMin: quantity.Ohm(l.Rest),
			Make: l.Make.duration(), Break: l.Break.duration(), Guard: float64(l.Guard),
		},
	}
	if l.Forward != nil {
		key.Limits.ForwardMin, key.Limits.ForwardMax = quantity.Volt(l.Forward[0]), quantity.Volt(l.Forward[1])
	}
	if k.Diode != "" {
		key.Diode = AtoB
		if strings.HasPrefix(k.Diode, k.Lines[1]+" to ") && k.Diode != k.Lines[0]+" to "+k.Lines[1] {
			key.Diode = BtoA
		}
	}
	return key, nil
}

func (n number) duration() time.Duration { return time.Duration(float64(n)*1e9 + 0.5) }

// around puts back what surrounds the keypad: its scanner and its reference units.
func (r *restorer) around() {
	if s := r.m.Scanner; s != nil {
		r.p.Scanner = s.scanner()
	}
	if u := r.m.References; u != nil {
		r.p.References = &References{Every: u.Every.duration(), Units: u.Units, Within: float64(u.Within), Good: u.Good, Bad: u.Bad}
	}
}

func (s *scannerMeaning) scanner() *Scanner {
	or := func(n *number, usual float64) float64 {
		if n == nil {
			return usual
		}
		return float64(*n)
	}
	usual := usualScanner
	return &Scanner{
		Supply: quantity.Volt(s.Supply), PullUp: quantity.Ohm(s.PullUp), Low: quantity.Volt(s.Low), High: quantity.Volt(s.High),
		Drive: quantity.Ohm(s.Drive), IdleDriven: s.Idle == "driven",
		PullUpTolerance: or(s.PullUpTolerance, usual.PullUpTolerance),
		SupplyTolerance: or(s.SupplyTolerance, usual.SupplyTolerance),
		Capacitance:     quantity.Farad(or(s.Capacitance, float64(usual.Capacitance))),
		Settle:          number(or(s.Settle, usual.Settle.Seconds())).duration(),
		Period:          number(or(s.Period, usual.Period.Seconds())).duration(),
		Debounce:        number(or(s.Debounce, usual.Debounce.Seconds())).duration(),
		ShortestPress:   number(or(s.ShortestPress, usual.ShortestPress.Seconds())).duration(),
		PortCurrent:     quantity.Ampere(or(s.PortCurrent, float64(usual.PortCurrent))),
	}
}
