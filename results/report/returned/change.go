package returned

import (
	"encoding/json"
	"fmt"
	"math"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
)

// Change is how much a resistance changed between two readings, with the
// expanded uncertainty of that, k = 2.
//
// Both uncertainties are taken as independent: U = 2 sqrt(u1^2 + u2^2) (JCGM
// 100:2008, equation 10, for a difference). What two readings of one jig have in
// common, such as its reference resistors, cancels in part, U^2 falling by
// 8 r u1 u2 for a correlation r, and is not known from the records. So U is
// rather too large than too small, and a change that is called real is one.
type Change struct{ Value, U quantity.Ohm }

// ChangeOf compares two readings; ok is false where one of them has no value.
func ChangeOf(then, now *fixture.Resistance) (c Change, ok bool) {
	if then == nil || now == nil || then.AtLeast || now.AtLeast {
		return Change{}, false
	}
	u := math.Hypot(float64(then.U), float64(now.U))
	return Change{now.Value - then.Value, quantity.Ohm(2 * u)}, true
}

// Real reports whether the change is larger than its expanded uncertainty.
func (c Change) Real() bool { return math.Abs(float64(c.Value)) > float64(c.U) }

// MarshalJSON has what people see of it.
func (c Change) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Value sequence.Number `json:"ohm"`
		U     sequence.Number `json:"expanded_u_ohm"`
		Real  bool            `json:"real"`
	}{sequence.Number(c.Value), sequence.Number(c.U), c.Real()})
}

// String gives the change with its sign and its uncertainty, "+12.4 ± 0.6 ohm".
func (c Change) String() string { return c.inOhm() + " ohm" }

func (c Change) inOhm() string {
	digits := digitsOf(c.U)
	scale := math.Pow10(digits)
	value := math.Round(float64(c.Value)*scale)/scale + 0 // no negative zero
	if c.U.IsOpen() {
		return fmt.Sprintf("%+.*f ± ?", digits, value) // then no change is real
	}
	return fmt.Sprintf("%+.*f ± %.*f", digits, value, digits, float64(c.U))
}

// digitsOf is how many decimals a value in ohm is given with: its uncertainty
// has two digits where it begins with 1 or 2, else one (as fixture.Resistance).
func digitsOf(u quantity.Ohm) int {
	if !(u > 0) || u.IsOpen() {
		return 2
	}
	power := math.Floor(math.Log10(float64(u)))
	digits := -int(power)
	if math.Round(float64(u)/math.Pow10(int(power)-1)) < 30 {
		digits++
	}
	return min(max(0, digits), 3)
}
