package object

import (
	"slices"
	"time"

	"padjig/fixture/quantity"
	"padjig/sequence/margin"
	"padjig/sequence/product"
)

// ProductMargins is the margins of one product as --json prints them.
type ProductMargins struct {
	File       string      `json:"file"`
	Product    string      `json:"product"`
	Revision   string      `json:"revision"`
	Scanner    bool        `json:"scanner"` // false: not stated, and nothing else is here
	Conclusion string      `json:"conclusion,omitempty"`
	Loose      bool        `json:"limits_looser"`
	Keys       []KeyMargin `json:"keys,omitempty"`
	Presses    []Presses   `json:"presses,omitempty"`
	Timing     *Timing     `json:"timing,omitempty"`
	Currents   *Currents   `json:"currents,omitempty"`
	Warnings   []Warning   `json:"warnings,omitempty"`

	Contact float64 `json:"contact_current_a,omitempty"` // at which contacts keep to their limits; not here: as they are read
}

type KeyMargin struct {
	Key      string   `json:"key"`
	Unread   string   `json:"never_read,omitempty"`
	Pressed  *Level   `json:"pressed,omitempty"`
	Released *Level   `json:"released,omitempty"`
	Typical  *float64 `json:"good_unit_v,omitempty"`
	Contact  *float64 `json:"contact_allowed_ohm,omitempty"`
	Scans    int      `json:"scans_of_shortest_press"`
}

type Level struct {
	Row       float64  `json:"row_v"`
	Threshold float64  `json:"threshold_v"`
	Margin    float64  `json:"margin_v"`
	Limit     float64  `json:"limit_ohm"`
	Allowed   *float64 `json:"allowed_ohm"` // null: none
}

type Presses struct {
	Held     int     `json:"keys_held"`
	Ghost    int     `json:"ways_with_ghost"`
	Masked   int     `json:"ways_with_masked"`
	Examples []Press `json:"examples"`
}

type Press struct {
	Held   []string `json:"held"`
	Ghosts []string `json:"ghosts"`
	Masked []string `json:"masked"`
}

type Timing struct {
	Rise *float64 `json:"rise_s"` // null: never
	Fall *float64 `json:"fall_s"`
	Scan float64  `json:"scan_s"`
}

type Currents struct {
	Sink  float64 `json:"sink_a"`
	Fight *Fight  `json:"two_keys_idle_high"` // null: no two keys join two columns
}

type Fight struct {
	Keys    [2]string `json:"keys"`
	Typical float64   `json:"typical_a"`
	Most    float64   `json:"most_a"`
	Row     float64   `json:"row_v"`
	Blocked bool      `json:"blocked_by_diode"`
	Applies bool      `json:"applies"` // idle columns are driven high
}

type Warning struct {
	Loose bool     `json:"limits_looser"`
	Keys  []string `json:"keys"`
	Says  string   `json:"says"`
}

// Margins are those of every product that was asked for.
type Margins struct {
	Products []ProductMargins `json:"products"`
}

// ProductMarginsOf gives what the scanner makes of the product in a file; r is nil
// where the file states none. The conclusion is the sentence that a person reads.
func ProductMarginsOf(file string, p *product.Product, r *margin.Report, conclusion string) ProductMargins {
	o := ProductMargins{File: file, Product: p.Code, Revision: p.Revision, Scanner: r != nil}
	if r == nil {
		return o
	}
	o.Conclusion, o.Contact = conclusion, float64(r.Contact)
	o.Loose = slices.ContainsFunc(r.Warnings, func(w margin.Warning) bool { return w.Loose })
	for k, key := range r.Keys {
		o.Keys = append(o.Keys, keyMarginOf(p.Keys[k].Label, key))
	}
	for size := 1; size < len(r.Presses.Sizes); size++ {
		o.Presses = append(o.Presses, pressesOf(p, r, size))
	}
	t := r.Timing
	o.Timing = &Timing{timeOrNever(t.Rise), timeOrNever(t.Fall), t.Scan.Seconds()}
	o.Currents = currentsOf(p, r)
	o.Warnings = each(r.Warnings, func(w margin.Warning) Warning {
		return Warning{w.Loose, labels(p, w.Keys), w.Says}
	})
	return o
}

func keyMarginOf(label string, k margin.Key) KeyMargin {
	o := KeyMargin{Key: label, Unread: k.Unread, Scans: k.Scans}
	if k.Unread == "" {
		o.Pressed, o.Released = levelOf(k.Pressed), levelOf(k.Released)
		o.Typical, o.Contact = new(float64(k.Typical)), ohmOrNone(k.Contact)
	}
	return o
}

func levelOf(l margin.Level) *Level {
	return &Level{float64(l.Row), float64(l.Threshold), float64(l.Margin), float64(l.Limit),
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

func labels(p *product.Product, keys []int) []string {
	return each(keys, func(k int) string { return p.Keys[k].Label })
}

func pressesOf(p *product.Product, r *margin.Report, size int) Presses {
	s := r.Presses.Sizes[size]
	return Presses{size, s.Ghost, s.Lost, each(s.Examples, func(e margin.Press) Press {
		return Press{labels(p, e.Held), labels(p, e.Ghosts), labels(p, e.Lost)}
	})}
}

func currentsOf(p *product.Product, r *margin.Report) *Currents {
	o := &Currents{Sink: float64(r.Currents.Sink)}
	if f := r.Currents.Fight; f != nil {
		names := labels(p, []int{f.Low, f.High})
		o.Fight = &Fight{[2]string{names[0], names[1]}, float64(f.Typical), float64(f.Most), float64(f.Row),
			f.Blocked, p.Scanner.IdleDriven}
	}
	return o
}
