package margin

import (
	"math"
	"time"

	"padjig/fixture/quantity"
)

// Never is the time that a line takes to a voltage which it does not reach.
const Never = time.Duration(math.MaxInt64)

// Timing compares how fast lines settle with how soon they are read.
type Timing struct {
	// Rise is the time a released row needs to its high threshold, Fall the longest that a
	// row with a key at its closed limit needs to its low one; both in the worst case.
	Rise, Fall time.Duration
	Columns    int           // driven lines with keys, at least 1
	Scan       time.Duration // of all columns, each with the scanner's wait before reading
}

// Needed is the least wait between driving a column and reading the rows.
func (t Timing) Needed() time.Duration { return max(t.Rise, t.Fall) }

// RiseTime gives the time in which a line of capacitance c, pulled up through r, rises from 0
// to high: t = r c ln(supply / (supply - high)). It is [Never] when high is not below the
// supply.
func RiseTime(r quantity.Ohm, c quantity.Farad, supply, high quantity.Volt) time.Duration {
	if high >= supply {
		return Never
	}
	return seconds(float64(r) * float64(c) * math.Log(float64(supply/(supply-high))))
}

// FallTime gives the time in which a row of capacitance c falls from the supply to low when
// the key closes with r: the row tends to d.Level(r) with the resistances above and below it
// in parallel. It is [Never] when that is not below low.
func FallTime(d Divider, r quantity.Ohm, c quantity.Farad, low quantity.Volt) time.Duration {
	end := d.Level(r)
	if end >= low {
		return Never
	}
	tau := float64(parallel(d.PullUp, r+d.Drive)) * float64(c)
	return seconds(tau * math.Log(float64((d.Supply-end)/(low-end))))
}

// seconds is s as a duration, rounded up so that waiting that long is enough.
func seconds(s float64) time.Duration {
	if ns := math.Ceil(s * 1e9); ns < math.MaxInt64 {
		return time.Duration(ns)
	}
	return Never
}

func (b *board) timing() Timing {
	t := Timing{Columns: max(1, len(b.columns()))}
	t.Scan = time.Duration(t.Columns) * b.scanner.Settle
	for _, f := range b.scanner.supplies() {
		supply, high := b.scanner.Supply*quantity.Volt(f), b.scanner.High*quantity.Volt(max(1, f))
		t.Rise = max(t.Rise, RiseTime(b.scanner.mostPull(), b.scanner.hanging(), supply, high))
	}
	return t
}

func (b *board) slowestFall(keys []Key) (slowest time.Duration) {
	for k := range keys {
		if keys[k].Unread == "" {
			slowest = max(slowest, b.fall(k))
		}
	}
	return slowest
}

func (b *board) fall(k int) (slowest time.Duration) {
	limits, s := b.Keys[k].Limits, b.scanner
	for _, f := range b.scanner.supplies() {
		d := Divider{s.Supply * quantity.Volt(f), b.scanner.leastPull(), limits.ForwardMax, b.driver(b.ways[k].driven)}
		low := s.Low * quantity.Volt(min(1, f))
		slowest = max(slowest, FallTime(d, limits.ClosedMax, s.Capacitance, low))
	}
	return slowest
}

// scans is how many scans surely fall into the shortest press once it has stopped bouncing.
func (b *board) scans(k int) int {
	quiet := b.scanner.ShortestPress - b.Keys[k].Limits.Make
	return int(max(0, quiet) / b.scanner.Period)
}
