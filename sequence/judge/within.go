package judge

import (
	"math"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence/decide"
)

// against decides on a reading of standard uncertainty u, the guard band being
// a multiple of U = 2u.
func against(tolerance decide.Interval, value, u, guard float64) decide.Decision {
	return decide.Decide(value, tolerance, tolerance.Guarded(decide.Band(guard, u)))
}

// ClosedWithin decides on a closed resistance against its band.
func ClosedWithin(r fixture.Resistance, least, most quantity.Ohm, guard float64) decide.Decision {
	if r.AtLeast {
		return decide.Rejected
	}
	band := decide.AtMost(float64(most))
	if least > 0 {
		band.Low = float64(least)
	}
	return against(band, float64(r.Value), float64(r.U), guard)
}

// Apart decides on an insulation reading; "at least" readings count as their
// value with nothing known above it.
func Apart(r fixture.Resistance, least quantity.Ohm, guard float64) decide.Decision {
	u := float64(r.U)
	if r.AtLeast {
		u = 0
	}
	return against(decide.AtLeast(float64(least)), float64(r.Value), u, guard)
}

// BounceWithin decides on a bounce time. Both ends are known to a tick, so
// their difference has the standard uncertainty tick / sqrt(6).
func BounceWithin(b fixture.Bounce, limit, tick time.Duration, guard float64) decide.Decision {
	if b.Time == 0 {
		return decide.Accepted
	}
	return against(decide.AtMost(limit.Seconds()), b.Time.Seconds(), tick.Seconds()/math.Sqrt(6), guard)
}

// ForwardWithin decides on a diode's forward drop.
func ForwardWithin(v fixture.Voltage, least, most quantity.Volt, guard float64) decide.Decision {
	return against(decide.Between(float64(least), float64(most)), float64(v.Value), float64(v.U), guard)
}
