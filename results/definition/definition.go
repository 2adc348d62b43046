// Package definition reads what stored product definitions say of their keys. They
// stay as they were written, whatever product files hold today: what is not there,
// or not understood, is none.
package definition

import "encoding/json"

// Key is a key as it was defined.
type Key struct {
	Label, Group string
	Lines        []string
	Place        [4]float64 // left, top, width and height on the drawing, in key pitches
	Actuator     int
	Limits       Limits
}

// Limits of a key are pairs of least and most, 0 for none.
type Limits struct {
	Closed  [2]float64 `json:"closed_ohm"`
	Rest    float64    `json:"rest_ohm"` // at least
	Make    float64    `json:"make_s"`   // at most
	Break   float64    `json:"break_s"`
	Forward [2]float64 `json:"diode_v"`
	Guard   float64    `json:"guard_u"` // guard band, in expanded uncertainties
	Text    string     `json:"-"`       // as it is stored, which is canonical: equal text, equal limits
}

// UnmarshalJSON reads limits as they are stored.
func (l *Limits) UnmarshalJSON(text []byte) error {
	type plain Limits
	var p plain
	if json.Unmarshal(text, &p) != nil {
		p = plain{}
	}
	*l = Limits(p)
	l.Text = string(text)
	return nil
}

// Keys gives the keys of a definition in its order, none for one of another kind.
func Keys(definition []byte) []Key {
	var p struct{ Keys []Key }
	if json.Unmarshal(definition, &p) != nil {
		return nil
	}
	return p.Keys
}

// Tail gives the name of the line on each tail pin of a definition, empty for an unused
// pin, none for one of another kind.
func Tail(definition []byte) []string {
	var p struct{ Tail []string }
	if json.Unmarshal(definition, &p) != nil {
		return nil
	}
	return p.Tail
}
