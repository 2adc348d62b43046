package main

import (
	"time"

	"padjig/fixture/quantity"
	"padjig/sequence/margin"
)

// marginsObject is the margins of one product as --json prints them.
type marginsObject struct {
	File       string          `json:"file"`
	Product    string          `json:"product"`
	Revision   string          `json:"revision"`
	Scanner    bool            `json:"scanner"` // false: not stated, and nothing else is here
	Conclusion string          `json:"conclusion,omitempty"`
	Loose      bool            `json:"limits_looser"`
	Keys       []marginObject  `json:"keys,omitempty"`
	Presses    []pressesObject `json:"presses,omitempty"`
	Timing     *timingObject   `json:"timing,omitempty"`
	Currents   *currentsObject `json:"currents,omitempty"`
	Warnings   []warningObject `json:"warnings,omitempty"`
}

type marginObject struct {
	Key      string       `json:"key"`
	Unread   string       `json:"never_read,omitempty"`
	Pressed  *levelObject `json:"pressed,omitempty"`
	Released *levelObject `json:"released,omitempty"`
	Typical  *float64     `json:"good_unit_v,omitempty"`
	Contact  *float64     `json:"contact_allowed_ohm,omitempty"`
	Scans    int          `json:"scans_of_shortest_press"`
}

type levelObject struct {
	Row       float64  `json:"row_v"`
	Threshold float64  `json:"threshold_v"`
	Margin    float64  `json:"margin_v"`
	Limit     float64  `json:"limit_ohm"`
	Allowed   *float64 `json:"allowed_ohm"` // null: none
}

type pressesObject struct {
	Held     int           `json:"keys_held"`
	Ghost    int           `json:"ways_with_ghost"`
	Masked   int           `json:"ways_with_masked"`
	Examples []pressObject `json:"examples"`
}

type pressObject struct {
	Held   []string `json:"held"`
	Ghosts []string `json:"ghosts"`
	Masked []string `json:"masked"`
}

type timingObject struct {
	Rise *float64 `json:"rise_s"` // null: never
	Fall *float64 `json:"fall_s"`
	Scan float64  `json:"scan_s"`
}

type currentsObject struct {
	Sink  float64      `json:"sink_a"`
	Fight *fightObject `json:"two_keys_idle_high"` // null: no two keys join two columns
}

type fightObject struct {
	Keys    [2]string `json:"keys"`
	Typical float64   `json:"typical_a"`
	Most    float64   `json:"most_a"`
	Row     float64   `json:"row_v"`
	Blocked bool      `json:"blocked_by_diode"`
	Applies bool      `json:"applies"` // idle columns are driven high
}

type warningObject struct {
	Loose bool     `json:"limits_looser"`
	Keys  []string `json:"keys"`
	Says  string   `json:"says"`
}

func marginsObjectOf(all []margins) any {
	return struct {
		Products []marginsObject `json:"products"`
	}{each(all, margins.object)}
}

func (m margins) object() marginsObject {
	o := marginsObject{File: m.file, Product: m.Code, Revision: m.Revision, Scanner: m.Report != nil}
	if m.Report == nil {
		return o
	}
	o.Conclusion = marginSheet{sheet{terminal{}, m.Product}, m}.conclusion()
	o.Loose = len(m.loose()) > 0
	for k, key := range m.Report.Keys {
		o.Keys = append(o.Keys, marginObjectOf(m.Product.Keys[k].Label, key))
	}
	for size := 1; size < len(m.Presses.Sizes); size++ {
		o.Presses = append(o.Presses, m.pressesObject(size))
	}
	t := m.Timing
	o.Timing = &timingObject{timeOrNever(t.Rise), timeOrNever(t.Fall), t.Scan.Seconds()}
	o.Currents = m.currentsObject()
	o.Warnings = each(m.Warnings, func(w margin.Warning) warningObject {
		return warningObject{w.Loose, m.names(w.Keys), w.Says}
	})
	return o
}

func marginObjectOf(label string, k margin.Key) marginObject {
	o := marginObject{Key: label, Unread: k.Unread, Scans: k.Scans}
	if k.Unread == "" {
		o.Pressed, o.Released = levelObjectOf(k.Pressed), levelObjectOf(k.Released)
		o.Typical, o.Contact = new(float64(k.Typical)), ohmOrNone(k.Contact)
	}
	return o
}

func levelObjectOf(l margin.Level) *levelObject {
	return &levelObject{float64(l.Row), float64(l.Threshold), float64(l.Margin), float64(l.Limit),
		ohmOrNone(l.Allowed)}
}

// ohmOrNone is nothing for what is no resistance that a key could have.
func ohmOrNone(r quantity.Ohm) *float64 {
	if r <= 0 || r.IsOpen() {
		return nil
	}
	return new(float64(r))
}

func timeOrNever(t time.Duration) *float64 {
	if t == margin.Never {
		return nil
	}
	return new(t.Seconds())
}

func (m margins) names(keys []int) []string {
	return each(keys, func(k int) string { return m.Product.Keys[k].Label })
}

func (m margins) pressesObject(size int) pressesObject {
	p := m.Presses.Sizes[size]
	return pressesObject{size, p.Ghost, p.Lost, each(p.Examples, func(p margin.Press) pressObject {
		return pressObject{m.names(p.Held), m.names(p.Ghosts), m.names(p.Lost)}
	})}
}

func (m margins) currentsObject() *currentsObject {
	o := &currentsObject{Sink: float64(m.Currents.Sink)}
	if f := m.Currents.Fight; f != nil {
		names := m.names([]int{f.Low, f.High})
		o.Fight = &fightObject{[2]string{names[0], names[1]}, float64(f.Typical), float64(f.Most), float64(f.Row),
			f.Blocked, m.Product.Scanner.IdleDriven}
	}
	return o
}
