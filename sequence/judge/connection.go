package judge

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/exchange"
	"padjig/sequence/nets"
)

// Connection is a pair of lines found connected, at rest or while a key was held.
type Connection struct {
	A, B int
	Ohm  fixture.Resistance // the smaller of both polarities

	Forward, Backward fixture.Resistance // A fed, and B fed
	Trend             sequence.Trend
	Gone              bool // it was not there any more when it was read again
}

// Read is the connection with what was read of it in both polarities.
func (c Connection) Read(forward, backward fixture.Resistance) Connection {
	c.Forward, c.Backward, c.Ohm = forward, backward, forward
	if backward.Value < forward.Value {
		c.Ohm = backward
	}
	return c
}

// Splits reads a pair in both polarities.
func (c Connection) Splits() [2]Split {
	s := Split{Feed: []int{c.A}, Ground: []int{c.B}}
	return [2]Split{s, s.Reversed()}
}

// Against decides on the connection by a limit of its lines.
func (c Connection) Against(limit Limit) decide.Decision {
	least, guard := limit(c.A, c.B)
	return Apart(c.Ohm, least, guard)
}

// lines are the two, the smaller number first.
func (c Connection) lines() [2]int { return exchange.Ordered(c.A, c.B) }

// manner is what is odd about a connection.
func (c Connection) manner() []sequence.Said {
	switch {
	case c.Gone:
		return []sequence.Said{sequence.Fact(sequence.GoneAgain)}
	case c.Trend == sequence.Rising:
		return []sequence.Said{sequence.Fact(sequence.WhileRising)}
	case c.Trend == sequence.Falling:
		return []sequence.Said{sequence.Fact(sequence.WhileFalling)}
	}
	return nil
}

// Vanished reports whether what was read before is not there any more: more
// than twice the most that it can have been, so that no noise of a reading
// looks like it.
func Vanished(before, now fixture.Resistance) bool {
	const sigmas, clearly = 4, 2
	return !before.AtLeast && now.Value > clearly*(before.Value+sigmas*before.U)
}

// Strictest is the largest limit of any two lines.
func (s *Setting) Strictest(limit Limit) (least quantity.Ohm, guard float64) {
	for i, a := range s.Lines {
		for _, b := range s.Lines[:i] {
			l, g := limit(a, b)
			least, guard = max(least, l), max(guard, g)
		}
	}
	return least, guard
}

// Guarding lists the lines to hold at the potential of the fed line while two
// lines are read.
type Guarding func(fed, grounded int) []int

// Harmless guards the lines that are far enough from the grounded one, by what
// was read with a small current, for the guard's own current into it to stay
// below that of watching a contact. A closer line floats and is read as one
// with the line it is joined to.
func (s *Setting) Harmless(known *nets.Nets, read []Connection) Guarding {
	least := quantity.Ohm(float64(s.Jig.Vref) / float64(s.Jig.Current(s.Mid)))
	near := map[[2]int]bool{}
	for _, c := range read {
		if c.Ohm.Value < least {
			near[c.lines()] = true
		}
	}
	return func(fed, grounded int) []int {
		return slices.DeleteFunc(s.Except(fed, grounded), func(l int) bool {
			return near[exchange.Ordered(l, grounded)] || known.Same(l, grounded) || known.Same(l, fed)
		})
	}
}

// TooClose keeps the pairs that do not hold their limit.
func TooClose(pairs []Connection, limit Limit) []Connection {
	return slices.DeleteFunc(slices.Clone(pairs), func(c Connection) bool { return c.Against(limit) == decide.Accepted })
}

// Direct leaves out pairs that are close only by way of others: of lines that
// closer pairs join already, and of the leaks between the same two nets all
// but the smallest.
func (s *Setting) Direct(pairs []Connection) []Connection {
	closest := slices.SortedStableFunc(slices.Values(pairs), func(p, q Connection) int {
		return cmp.Compare(p.Ohm.Value, q.Ohm.Value)
	})
	joined := nets.New(len(s.Product.Lines))
	kept, leaks := map[[2]int]bool{}, map[[2]int]bool{}
	for _, p := range closest {
		between := joined.Pair(p.A, p.B)
		if joined.Same(p.A, p.B) || leaks[between] {
			continue
		}
		kept[p.lines()] = true
		if p.Ohm.Value < s.Closure {
			joined.Join(p.A, p.B)
		} else {
			leaks[between] = true
		}
	}
	return slices.DeleteFunc(pairs, func(p Connection) bool { return !kept[p.lines()] })
}

// SettledOn reports whether waiting longer would not change a decision on a leak.
func SettledOn(t sequence.Trend, d decide.Decision) bool {
	switch d {
	case decide.Accepted:
		return t != sequence.Falling
	case decide.Rejected:
		return t != sequence.Rising
	}
	return t == sequence.Steady
}

const (
	// TrendReadings is how many readings tell a trend.
	TrendReadings = 8
	// trendSigmas is how many of its own standard deviations a slope must have
	// to be one: Student's t of six degrees of freedom goes beyond in 0.7 % of
	// steady rows.
	trendSigmas = 4
	// trendLeast is the smallest change over a row that counts, as a part of
	// the value: less decides nothing.
	trendLeast = 0.01
)

// TrendOf tells how evenly spaced readings go, by the slope of the straight
// line through them against the slope's own uncertainty from their scatter.
func TrendOf(row []fixture.Resistance) sequence.Trend {
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
		return sequence.Steady
	}
	var left float64
	for i := range x {
		left += math.Pow(y[i]-offset-slope*x[i], 2)
	}
	n := float64(len(x))
	u := math.Sqrt(left / (n - 2) / (variance * (n - 1)))
	switch {
	case slope > trendSigmas*u:
		return sequence.Rising
	case slope < -trendSigmas*u:
		return sequence.Falling
	}
	return sequence.Steady
}

// towardsOpen is the trend of a row part of which is beyond the range.
func towardsOpen(row []fixture.Resistance) sequence.Trend {
	switch first, last := row[0].AtLeast, row[len(row)-1].AtLeast; {
	case first && !last:
		return sequence.Falling
	case last && !first:
		return sequence.Rising
	}
	return sequence.Steady
}
