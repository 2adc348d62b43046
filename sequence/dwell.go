package sequence

import (
	"math"
	"time"

	"gonum.org/v1/gonum/stat"

	"padjig/fixture"
)

// A leak is watched in rounds of a few readings in each polarity, as long as
// it is on its way to the other side of its limit: an early end as in
// MIL-STD-202 method 302, which lets a reading stop before its time when it
// meets the limit and is steady or rising (seen). Ours ends early on the bad
// side too. How long, how often and how many are ours.
const (
	dwellReadings = 8
	dwellSpacing  = 12 * time.Millisecond
	dwellSamples  = 64
	mostRounds    = 5
	mostWatched   = 8 // leaks of one unit; after a spilt drink there are hundreds
)

// watchLeak watches a leaking pair under voltage and leaves in it the last
// reading and the trend.
func (r *runner) watchLeak(p *elsewhere, rng int, limit pairLimit, guard guarding) error {
	least, band := limit(p.a, p.b)
	rng = r.plan.rangeFor(p.ohm.Value, rng)
	for range mostRounds {
		forward, backward, err := r.dwellRound(*p, rng, guard)
		if err != nil {
			return err
		}
		last := len(forward) - 1
		p.forward, p.backward = forward[last], backward[last]
		p.smaller()
		lower := forward
		if backward[last].Value < forward[last].Value {
			lower = backward
		}
		p.trend = trendOf(lower)
		if settledOn(p.trend, apart(p.ohm, least, band)) {
			return nil
		}
	}
	return nil
}

// settledOn reports whether waiting longer would not change a decision.
func settledOn(t Trend, d decision) bool {
	switch d {
	case accepted:
		return t != Falling
	case rejected:
		return t != Rising
	}
	return t == Steady
}

// dwellRound reads a pair several times in each polarity, evenly spaced.
func (r *runner) dwellRound(p elsewhere, rng int, guard guarding) (forward, backward []fixture.Resistance, err error) {
	var readings [2][]fixture.Resistance
	for i, s := range p.splits() {
		routine := fixture.NewRoutine(r.plan.Jig)
		stage := fixture.Stage{Range: rng, Feed: r.plan.channels(s.feed), Ground: r.plan.channels(s.ground)}
		if r.plan.Jig.Guard {
			stage.Guard = r.plan.channels(s.guarded(guard))
		}
		routine.Stage(stage)
		var slots []fixture.Slot
		for range dwellReadings {
			routine.Wait(dwellSpacing)
			slots = append(slots, routine.Read(stage.Feed[0], stage.Ground[0], dwellSamples))
		}
		done, err := r.one(routine)
		if err != nil {
			return nil, nil, err
		}
		for _, slot := range slots {
			readings[i] = append(readings[i], done.Resistance(slot))
		}
	}
	return readings[0], readings[1], nil
}

const (
	// trendSigmas is how many of its own standard deviations a slope must have
	// to be one: Student's t of six degrees of freedom goes beyond in 0.7 % of
	// steady rows.
	trendSigmas = 4
	// trendLeast is the smallest change over a row that counts, as a part of
	// the value: less decides nothing.
	trendLeast = 0.01
)

// trendOf tells how evenly spaced readings go, by the slope of the straight
// line through them against the slope's own uncertainty from their scatter.
func trendOf(row []fixture.Resistance) Trend {
	var x, y []float64
	for i, r := range row {
		if r.AtLeast {
			return towardsOpen(row)
		}
		x, y = append(x, float64(i)), append(y, float64(r.Value))
	}
	offset, slope := stat.LinearRegression(x, y, nil, false)
	mean, variance := stat.MeanVariance(x, nil)
	change := slope * (x[len(x)-1] - x[0])
	if math.Abs(change) < trendLeast*math.Abs(offset+slope*mean) {
		return Steady
	}
	var left float64
	for i := range x {
		left += math.Pow(y[i]-offset-slope*x[i], 2)
	}
	n := float64(len(x))
	u := math.Sqrt(left / (n - 2) / (variance * (n - 1)))
	switch {
	case slope > trendSigmas*u:
		return Rising
	case slope < -trendSigmas*u:
		return Falling
	}
	return Steady
}

// towardsOpen is the trend of a row part of which is beyond the range.
func towardsOpen(row []fixture.Resistance) Trend {
	switch first, last := row[0].AtLeast, row[len(row)-1].AtLeast; {
	case first && !last:
		return Falling
	case last && !first:
		return Rising
	}
	return Steady
}
