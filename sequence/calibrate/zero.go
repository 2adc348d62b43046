package calibrate

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
)

const (
	// zeroLimit is the most that a channel may have in series: what its sense
	// path, cable and pad have together when clean (common practice, no source).
	zeroLimit = quantity.Ohm(2)
	// notJoined is more than a plug with dirty contacts has, and less than
	// anything that is no plug.
	notJoined = quantity.Ohm(50)
	// fewestChannels is how many it takes to tell the resistance of each.
	fewestChannels = 3
)

// Zero finds the resistance in series with each channel while a shorting plug
// joins them all. Every channel k is read against the next two of the ring,
// and as each reading is the sum of two channels,
//
//	z(k) = (r(k,k+1) + r(k,k+2) - r(k+1,k+2)) / 2
//
// which takes no channel for better than another. The jig must have no zero
// set. A plug that is out, or only partly in, is [ErrNoPlug].
func Zero(ctx context.Context, jig sequence.Jig, caps fixture.Capabilities, when Occasion) (sequence.Calibration, error) {
	n := caps.Channels
	if n < fewestChannels {
		return sequence.Calibration{}, fmt.Errorf("zero jig %s: it has %d channels, and it takes %d to tell them apart",
			caps.Serial, n, fewestChannels)
	}
	ring := ringOf(n)
	self, err := readItself(ctx, jig, caps, 0)
	if err != nil {
		return sequence.Calibration{}, fmt.Errorf("zero jig %s: %w", caps.Serial, err)
	}
	if err := readPairs(ctx, jig, caps, self.Own, ring); err != nil {
		return sequence.Calibration{}, fmt.Errorf("zero jig %s: %w", caps.Serial, err)
	}
	if err := cmp.Or(joined(ring, n), doubted(caps, self.Own)); err != nil {
		return sequence.Calibration{}, fmt.Errorf("zero jig %s: %w", caps.Serial, err)
	}
	c := when.blank(sequence.KindZero, caps)
	for k := range n {
		c.Readings = append(c.Readings, zeroOf(caps, ring, k, n))
	}
	c.Good, c.Reason = judgeZero(c.Readings)
	return c, nil
}

// ringOf lists each channel with the next, then each with the next but one.
func ringOf(n int) []pairReading {
	var ring []pairReading
	for _, step := range []int{1, 2} {
		for k := range n {
			ring = append(ring, pairReading{a: k, b: (k + step) % n})
		}
	}
	return ring
}

func zeroOf(caps fixture.Capabilities, ring []pairReading, k, n int) sequence.CalibrationReading {
	next, beyond, between := ring[k].got, ring[n+k].got, ring[(k+1)%n].got
	u := rootSum(float64(next.U), float64(beyond.U), float64(between.U)) / 2
	return judged(sequence.CalibrationReading{
		Channel: k + 1, Reference: caps.Ranges[0].Ohm, Limit: zeroLimit,
		Measured: fixture.Resistance{
			Value: (next.Value + beyond.Value - between.Value) / 2, U: quantity.Ohm(u),
		},
	})
}

func judgeZero(readings []sequence.CalibrationReading) (good bool, reason string) {
	var bad []string
	for _, r := range readings {
		if !r.Good {
			bad = append(bad, fmt.Sprintf("channel %d has %v in series, at most %v allowed", r.Channel, r.Measured, r.Limit))
		}
	}
	return len(bad) == 0, strings.Join(bad, "; ")
}

// joined says whether the plug joined every channel. A channel that none of
// its four readings reaches is out; when it is only one reading that does not
// get through, so are both of its channels.
func joined(ring []pairReading, n int) error {
	missed := make([]int, n)
	open := 0
	for _, p := range ring {
		if p.got.AtLeast || p.got.Value > notJoined {
			missed[p.a]++
			missed[p.b]++
			open++
		}
	}
	switch out := unreached(missed, 4); {
	case open == 0:
		return nil
	case open > len(ring)/2:
		return &remedied{fmt.Errorf("%w: %d of %d pairs of channels are open", ErrNoPlug, open, len(ring)),
			"put the plug in, close the nest, then zero again"}
	case len(out) > 0:
		return &remedied{fmt.Errorf("%w: it does not reach channel %s", ErrNoPlug, list(out)),
			"push it fully in and look for a bent or dirty probe there, then zero again"}
	default:
		return &remedied{fmt.Errorf("%w: it does not join channels %s to all others", ErrNoPlug, list(unreached(missed, 1))),
			"push it fully in, then zero again"}
	}
}

// unreached lists the channels, from 1, that at least so many readings missed.
func unreached(missed []int, least int) []int {
	var out []int
	for c, m := range missed {
		if m >= least {
			out = append(out, c+1)
		}
	}
	return out
}

// list writes numbers as "3, 4 and 7".
func list(numbers []int) string {
	words := make([]string, len(numbers))
	for i, n := range slices.Sorted(slices.Values(numbers)) {
		words[i] = strconv.Itoa(n)
	}
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}
