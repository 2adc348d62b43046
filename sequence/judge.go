package sequence

import (
	"math"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
)

// decision is where a reading lies against a limit with a guard band
// (JCGM 106: acceptance limit = tolerance limit - w, here w = guard * U, U = 2 u).
type decision uint8

const (
	accepted decision = iota
	doubtful          // within the guard band: read again with more samples
	rejected
)

// atMost decides on an upper limit.
func atMost(value, u, limit, guard float64) decision {
	switch {
	case value+2*u*guard <= limit:
		return accepted
	case value <= limit:
		return doubtful
	}
	return rejected
}

// atLeast decides on a lower limit.
func atLeast(value, u, limit, guard float64) decision {
	return atMost(-value, u, -limit, guard)
}

// closedWithin decides on a closed resistance against its band.
func closedWithin(r fixture.Resistance, least, most quantity.Ohm, guard float64) decision {
	if r.AtLeast {
		return rejected
	}
	d := atMost(float64(r.Value), float64(r.U), float64(most), guard)
	if least > 0 {
		d = max(d, atLeast(float64(r.Value), float64(r.U), float64(least), guard))
	}
	return d
}

// apart decides on an insulation reading; "at least" readings count as their
// value with nothing known above it.
func apart(r fixture.Resistance, least quantity.Ohm, guard float64) decision {
	if r.AtLeast {
		return atLeast(float64(r.Value), 0, float64(least), 0)
	}
	return atLeast(float64(r.Value), float64(r.U), float64(least), guard)
}

// bounceWithin decides on a bounce time. Both ends are known to a tick, so
// their difference has the standard uncertainty tick / sqrt(6).
func bounceWithin(b fixture.Bounce, limit, tick time.Duration, guard float64) decision {
	if b.Time == 0 {
		return accepted
	}
	return atMost(b.Time.Seconds(), tick.Seconds()/math.Sqrt(6), limit.Seconds(), guard)
}

// forwardWithin decides on a diode's forward drop.
func forwardWithin(v fixture.Voltage, least, most quantity.Volt, guard float64) decision {
	value, u := float64(v.Value), float64(v.U)
	return max(atMost(value, u, float64(most), guard), atLeast(value, u, float64(least), guard))
}
