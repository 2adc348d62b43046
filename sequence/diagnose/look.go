package diagnose

import (
	"fmt"
	"math"

	"padjig/sequence/diagnose/readings"
)

// What the results of checks mean: each function gives the outcome of its action, with
// the values in words.

// unlike is the relative difference from which values of the same press are not alike:
// far above what noise and a good contact make.
const unlike = 0.10

// Presses judges readings of one key pressed several times; an open press reads AtLeast.
func (c Check) Presses(all []readings.Reading) Looked {
	open, least, most := 0, math.Inf(1), 0.0
	for _, r := range all {
		if r.AtLeast {
			open++
			continue
		}
		least, most = min(least, float64(r.Value)), max(most, float64(r.Value))
	}
	n := len(all)
	switch {
	case open == n:
		return c.looked(3, "never closed", c.Key, n)
	case open > 0:
		return c.looked(2, "missed", c.Key, open, n, ohm(least), ohm(most))
	case most-least > unlike*least:
		return c.looked(1, "closed, not alike", c.Key, n, ohm(least), ohm(most))
	}
	return c.looked(0, "closed alike", c.Key, n, ohm(least), ohm(most))
}

// Joined judges what the lines of a key read at rest and with the key held.
func (c Check) Joined(rest, held readings.Reading) Looked {
	// A contact beside a short of 2 ohm takes a few percent off; noise a few ppm.
	const clearly = 0.003
	less := float64(rest.Value - held.Value)
	switch {
	case rest.AtLeast && held.AtLeast:
		return c.looked(2, "open now", c.Key)
	case rest.AtLeast:
		return c.looked(2, "open at rest now", c.Key)
	case less > clearly*float64(rest.Value)+5*float64(rest.U)/10:
		return c.looked(0, "less when held", c.Key, rest.Value, held.Value)
	}
	return c.looked(1, "pressed or not", c.Key, rest.Value)
}

// Watched judges a pair of lines under voltage.
func (c Check) Watched(last readings.Reading, limit readings.Reading, trend readings.Trend) Looked {
	switch {
	case last.AtLeast || last.Value > limit.Value:
		return c.looked(3, "not joined", c.Lines[0], c.Lines[1])
	case trend == readings.Falling:
		return c.looked(0, "fall", c.Lines[0], c.Lines[1], last.Value)
	case trend == readings.Rising:
		return c.looked(2, "rise", c.Lines[0], c.Lines[1], last.Value)
	}
	return c.looked(1, "stay", c.Lines[0], c.Lines[1], last.Value)
}

// Held judges the openings of a key that was held.
func (c Check) Held(openings int, watched fmt.Stringer) Looked {
	if openings > 0 {
		return c.looked(0, "opened", c.Key, openings, watched)
	}
	return c.looked(1, "stayed closed", c.Key, watched)
}

// Loops judges the contact of all channels; those from pins on lie beyond the tail.
func (c Check) Loops(good []bool, pins int) Looked {
	bad := 0
	for i, ok := range good {
		switch {
		case i < pins && !ok:
			bad++
		case i >= pins && ok:
			return c.looked(0, "touched", i+1)
		}
	}
	if bad > 0 {
		return c.looked(1, "pins again", bad)
	}
	return c.looked(2, "all pins")
}

func (c Check) looked(outcome int, code Code, args ...any) Looked {
	return Looked{Action: c.Action, Key: c.Key, Lines: c.Lines, Outcome: outcome, Says: said("looked."+code, args...)}
}
