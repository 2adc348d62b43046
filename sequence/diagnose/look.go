package diagnose

import (
	"fmt"
	"math"
)

// What the results of checks mean: each function gives the outcome of its action, with
// the values in words.

// unlike is the relative difference from which values of the same press are not alike:
// far above what noise and a good contact make.
const unlike = 0.10

// Presses judges readings of one key pressed several times; an open press reads AtLeast.
func (c Check) Presses(readings []Reading) Looked {
	open, least, most := 0, math.Inf(1), 0.0
	for _, r := range readings {
		if r.AtLeast {
			open++
			continue
		}
		least, most = min(least, float64(r.Value)), max(most, float64(r.Value))
	}
	n := len(readings)
	switch {
	case open == n:
		return c.looked(3, "key %s did not close in %d presses", c.Key, n)
	case open > 0:
		return c.looked(2, "key %s missed %d of %d presses and read %v to %v in the others", c.Key, open, n, ohm(least), ohm(most))
	case most-least > unlike*least:
		return c.looked(1, "key %s closed in all %d presses, with %v to %v", c.Key, n, ohm(least), ohm(most))
	}
	return c.looked(0, "key %s closed in all %d presses, with %v to %v each time", c.Key, n, ohm(least), ohm(most))
}

// Joined judges what the lines of a key read at rest and with the key held.
func (c Check) Joined(rest, held Reading) Looked {
	// A contact beside a short of 2 ohm takes a few percent off; noise a few ppm.
	const clearly = 0.003
	less := float64(rest.Value - held.Value)
	switch {
	case rest.AtLeast && held.AtLeast:
		return c.looked(2, "key %s reads open now, pressed or not", c.Key)
	case rest.AtLeast:
		return c.looked(2, "the lines of key %s are open at rest now", c.Key)
	case less > clearly*float64(rest.Value)+5*float64(rest.U)/10:
		return c.looked(0, "the lines of key %s read %v at rest and %v with the key held", c.Key, rest.Value, held.Value)
	}
	return c.looked(1, "the lines of key %s read %v, pressed or not", c.Key, rest.Value)
}

// Watched judges a pair of lines under voltage.
func (c Check) Watched(last Reading, limit Reading, trend Trend) Looked {
	pair := c.Lines[0] + " and " + c.Lines[1]
	switch {
	case last.AtLeast || last.Value > limit.Value:
		return c.looked(3, "%s are not joined any more", pair)
	case trend == Falling:
		return c.looked(0, "%s read %v and fall", pair, last.Value)
	case trend == Rising:
		return c.looked(2, "%s read %v and rise", pair, last.Value)
	}
	return c.looked(1, "%s read %v and stay", pair, last.Value)
}

// Held judges the openings of a key that was held.
func (c Check) Held(openings int, watched fmt.Stringer) Looked {
	if openings > 0 {
		return c.looked(0, "key %s opened %d times in %v", c.Key, openings, watched)
	}
	return c.looked(1, "key %s stayed closed for %v", c.Key, watched)
}

// Loops judges the contact of all channels; those from pins on lie beyond the tail.
func (c Check) Loops(good []bool, pins int) Looked {
	bad := 0
	for i, ok := range good {
		switch {
		case i < pins && !ok:
			bad++
		case i >= pins && ok:
			return c.looked(0, "channel %d, beyond the tail, is touched", i+1)
		}
	}
	if bad > 0 {
		return c.looked(1, "%d pin%s without sure contact again, and nothing beyond the tail", bad, plural(bad))
	}
	return c.looked(2, "all pins have contact now")
}

func (c Check) looked(outcome int, format string, args ...any) Looked {
	return Looked{Action: c.Action, Key: c.Key, Lines: c.Lines, Outcome: outcome, Says: fmt.Sprintf(format, args...)}
}
