package sequence

import (
	"encoding/json"
	"math"
	"time"
)

// Number is a value in the unit of its finding; JSON has null for one that is infinite.
type Number float64

// MarshalJSON never fails: a finding that is not told would be lost.
func (n Number) MarshalJSON() ([]byte, error) {
	if v := float64(n); !math.IsNaN(v) && !math.IsInf(v, 0) {
		return json.Marshal(v)
	}
	return []byte("null"), nil
}

// Seconds is a duration that JSON has in seconds.
type Seconds time.Duration

// MarshalJSON writes a number.
func (s Seconds) MarshalJSON() ([]byte, error) { return json.Marshal(time.Duration(s).Seconds()) }

// Milliseconds is a duration that JSON has in milliseconds.
type Milliseconds time.Duration

// MarshalJSON writes a number.
func (m Milliseconds) MarshalJSON() ([]byte, error) {
	return json.Marshal(float64(m) / float64(time.Millisecond))
}
