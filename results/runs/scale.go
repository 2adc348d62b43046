package runs

import (
	"fmt"
	"math"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/store"
)

// Readings are stored as whole numbers of these parts. They are counted in
// parts per unit because 1e3 is exact in binary and 1e-3 is not.
const (
	Milli = 1e3  // ohm
	micro = 1e6  // volt, and ohm where a milliohm matters
	pico  = 1e12 // ampere
)

// beyond is a petaohm in milliohm. What is larger is stored as at least that.
const beyond = 1_000_000_000_000_000_000

// Ohms is a stored resistance.
type Ohms struct {
	MilliOhm *int64 `json:"mohm"`   // nil: infinite
	U        *int64 `json:"u_mohm"` // nil: unknown
	AtLeast  bool   `json:"at_least"`

	// What rounding took, in microohm, of a contact or a loop that is known better than that; nil: nothing.
	// Left out where absent, as in records of before.
	Rest  *int64 `json:"rest_uohm,omitempty"`
	URest *int64 `json:"u_rest_uohm,omitempty"`
}

// Whole milliohm are 1 in 200 of an uncertainty of so many microohm, or less of more; nothing known
// so well is as large as the other.
const (
	roughly = 100_000 // microohm
	large   = 1e6     // ohm
)

// toContact scales what a milliohm may matter to: contacts and loops.
func toContact(r fixture.Resistance) (Ohms, error) {
	u, err := uncertainty(float64(r.U), micro)
	if err != nil || u == nil || *u >= roughly || !(math.Abs(float64(r.Value)) < large) {
		return toOhms(r)
	}
	o := Ohms{AtLeast: r.AtLeast}
	o.MilliOhm, o.Rest = split(int64(math.Round(float64(r.Value)*micro)), math.MinInt64)
	o.U, o.URest = split(*u, min(*u, 1)) // never rounded down to zero
	return o, nil
}

// split gives whole milliohm, so many at least, and what is over.
func split(microohm, least int64) (milliohm, rest *int64) {
	whole := max(int64(math.Round(float64(microohm)/1000)), least)
	if over := microohm - 1000*whole; over != 0 {
		rest = &over
	}
	return &whole, rest
}

// together is what split took apart, in ohm.
func together(milliohm, rest *int64) quantity.Ohm {
	if milliohm == nil || rest == nil {
		return quantity.Ohm(unscale(milliohm, Milli))
	}
	return quantity.Ohm(*milliohm*1000+*rest) / micro
}

func toOhms(r fixture.Resistance) (Ohms, error) {
	u, err := uncertainty(float64(r.U), Milli)
	if err != nil {
		return Ohms{}, err
	}
	v := float64(r.Value) * Milli
	switch {
	case math.IsNaN(v) || v < -beyond:
		return Ohms{}, fmt.Errorf("a resistance of %v ohm is no reading", float64(r.Value))
	case math.IsInf(v, 1):
		return Ohms{U: u, AtLeast: true}, nil
	case v > beyond:
		return Ohms{MilliOhm: new(int64(beyond)), U: u, AtLeast: true}, nil
	}
	return Ohms{MilliOhm: new(int64(math.Round(v))), U: u, AtLeast: r.AtLeast}, nil
}

func (o Ohms) resistance() fixture.Resistance {
	return fixture.Resistance{Value: together(o.MilliOhm, o.Rest), U: together(o.U, o.URest), AtLeast: o.AtLeast}
}

// volts is a stored voltage.
type volts struct {
	MicroVolt int64  `json:"uv"`
	U         *int64 `json:"u_uv"` // nil: unknown
}

func toVolts(v fixture.Voltage) (volts, error) {
	u, err := uncertainty(float64(v.U), micro)
	if err != nil {
		return volts{}, err
	}
	scaled := float64(v.Value) * micro
	if math.IsNaN(scaled) || math.Abs(scaled) > beyond {
		return volts{}, fmt.Errorf("a voltage of %v V is no reading", float64(v.Value))
	}
	return volts{int64(math.Round(scaled)), u}, nil
}

func (v volts) voltage() fixture.Voltage {
	return fixture.Voltage{
		Value: quantity.Volt(unscale(&v.MicroVolt, micro)),
		U:     quantity.Volt(unscale(v.U, micro)),
	}
}

// bounce is a stored edge of a contact.
type bounce struct {
	Micro int64 `json:"us"`
	Count int64 `json:"count"`
}

func toBounce(b fixture.Bounce) (bounce, error) {
	if b.Time < 0 || b.Transitions < 0 {
		return bounce{}, fmt.Errorf("a bounce of %v with %d transitions is no reading", b.Time, b.Transitions)
	}
	return bounce{store.ToMicro(b.Time), int64(b.Transitions)}, nil
}

func (b bounce) reading() fixture.Bounce {
	return fixture.Bounce{Time: store.FromMicro(b.Micro), Transitions: int(b.Count)}
}

// uncertainty rounds, but never down to zero: that would claim a perfect
// reading. Infinite and undefined both mean unknown.
func uncertainty(u, parts float64) (*int64, error) {
	scaled := u * parts
	switch {
	case math.IsNaN(scaled) || scaled > beyond:
		return nil, nil
	case scaled < 0:
		return nil, fmt.Errorf("a standard uncertainty of %v is negative", u)
	case scaled > 0 && scaled < 1:
		return new(int64(1)), nil
	}
	return new(int64(math.Round(scaled))), nil
}

// unscale gives a stored number back in its unit; nil is infinite.
func unscale(stored *int64, parts float64) float64 {
	if stored == nil {
		return math.Inf(1)
	}
	return float64(*stored) / parts
}
