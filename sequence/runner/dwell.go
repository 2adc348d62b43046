package runner

import (
	"time"

	"padjig/fixture"
	"padjig/sequence/judge"
)

// A leak is watched in rounds of a few readings in each polarity, as long as
// it is on its way to the other side of its limit: an early end as in
// MIL-STD-202 method 302, which lets a reading stop before its time when it
// meets the limit and is steady or rising (seen). Ours ends early on the bad
// side too. How long, how often and how many are ours.
const (
	dwellSpacing = 12 * time.Millisecond
	dwellSamples = 64
	mostRounds   = 5
	mostWatched  = 8 // leaks of one unit; after a spilt drink there are hundreds
)

// dwell watches a leaking pair under voltage and gives it with the last reading and
// the trend.
func (f finder) dwell(c judge.Connection, rng int, limit judge.Limit, guard judge.Guarding) (judge.Connection, error) {
	rng = f.set.RangeFor(c.Ohm.Value, rng)
	for range mostRounds {
		var rows [2][]fixture.Resistance
		for i, s := range c.Splits() {
			var err error
			if rows[i], err = f.row(s, rng, guard); err != nil {
				return c, err
			}
		}
		last, lower := judge.TrendReadings-1, rows[0]
		c = c.Read(rows[0][last], rows[1][last])
		if rows[1][last].Value < rows[0][last].Value {
			lower = rows[1]
		}
		c.Trend = judge.TrendOf(lower)
		if judge.SettledOn(c.Trend, c.Against(limit)) {
			break
		}
	}
	return c, nil
}

// row reads two lines several times, evenly spaced.
func (f finder) row(s judge.Split, rng int, guard judge.Guarding) ([]fixture.Resistance, error) {
	routine, stage := f.routine(), f.stage(s, guarded(s, guard), rng)
	stage.Patient = f.patiently(rng)
	routine.Stage(stage)
	var slots []fixture.Slot
	for range judge.TrendReadings {
		routine.Wait(dwellSpacing)
		slots = append(slots, f.convert(routine, stage, dwellSamples))
	}
	done, err := f.line.one(routine)
	if err != nil {
		return nil, err
	}
	return readingsOf(done, slots), nil
}
