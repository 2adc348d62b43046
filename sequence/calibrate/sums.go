package calibrate

import (
	"math"
	"slices"

	"padjig/fixture/quantity"
	"padjig/sequence"
)

// RangeCheck sums up what a verification found of one range.
type RangeCheck struct {
	Reference quantity.Ohm // nominal
	Deviation float64      // mean of the readings, relative to the certified values
	U         float64      // expanded uncertainty of the best reading, relative, k = 2
	Limit     float64      // of the best reading, relative
	Good      bool         // every reading inside its limit
}

// Ranges sums a verification up by range, in their order; none for a zero.
func Ranges(c sequence.Calibration) []RangeCheck {
	if c.Kind != sequence.KindVerify {
		return nil
	}
	var all []RangeCheck
	for _, r := range c.Readings {
		if i := len(all) - 1; i < 0 || all[i].Reference != r.Reference {
			all = append(all, rangeCheck(c, r.Reference))
		}
	}
	return all
}

func rangeCheck(c sequence.Calibration, reference quantity.Ohm) RangeCheck {
	check := RangeCheck{Reference: reference, Good: true, U: math.Inf(1)}
	n := 0.0
	for _, r := range c.Readings {
		if r.Reference != reference {
			continue
		}
		n++
		check.Deviation += r.Relative()
		check.Good = check.Good && r.Good
		if u := 2 * float64(r.Deviation.U/r.Certified.Value); u < check.U {
			check.U, check.Limit = u, float64(r.Limit/r.Certified.Value)
		}
	}
	check.Deviation /= n
	return check
}

// ChannelCheck sums up what a calibration found of one channel.
type ChannelCheck struct {
	Channel int // from 1
	Worst   sequence.CalibrationReading
}

// Channels gives the reading of each channel that comes nearest to its limit,
// in their order. A channel that the box does not touch is not among them.
func Channels(c sequence.Calibration) []ChannelCheck {
	var all []ChannelCheck
	for _, channel := range touched(c.Readings) {
		check := ChannelCheck{Channel: channel}
		for _, r := range c.Readings {
			if on(r, channel) && (check.Worst.Channel == 0 || share(r) > share(check.Worst)) {
				check.Worst = r
			}
		}
		all = append(all, check)
	}
	return all
}

// share is the part of its limit that the deviation takes up.
func share(r sequence.CalibrationReading) float64 {
	return math.Abs(float64(r.Deviation.Value / r.Limit))
}

func on(r sequence.CalibrationReading, channel int) bool {
	return r.Channel == channel || r.Mate == channel
}

// touched lists the channels that readings are about.
func touched(readings []sequence.CalibrationReading) []int {
	var channels []int
	for _, r := range readings {
		channels = append(channels, r.Channel, r.Mate)
	}
	slices.Sort(channels)
	channels = slices.Compact(channels)
	return slices.DeleteFunc(channels, func(c int) bool { return c == 0 }) // a zero has no mate
}
