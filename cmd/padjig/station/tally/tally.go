// Package tally counts the units of a shift on one jig, each once.
package tally

import (
	"slices"
	"time"

	"padjig/results/runs"
	"padjig/sequence"
)

// Tally counts what a lane did in the shift: the units of production, each once,
// by how it stands. First, Retest, Failed and Open add up to Units.
type Tally struct {
	Of       Counted
	Since    time.Time     // the shift began
	Units    int           // with a run that ended in the shift
	First    int           // passed the first time, and did not fail since
	Retest   int           // passed when they were tested again
	Failed   int           // failed in their last run that judged them
	Open     int           // no run judged them: seated badly, stopped, not finished
	Begun    int           // units judged for the first time in the shift, and
	AtOnce   int           // how many of them passed then: first-pass yield (docs/quality.md)
	Takt     time.Duration // median from verdict to verdict, 0 before there are two
	Machine  time.Duration // of the last unit: tested
	Handling time.Duration // of the last unit: from the verdict before to its start; 0 when not known

	units map[string]unitState // by serial number
	gaps  []time.Duration      // the last ones
	last  time.Time            // verdict
}

// Counted is what a tally is of: runs of one product on one jig, real ones or
// simulated ones.
type Counted struct {
	Product, Jig string
	Simulated    bool
}

// unitState is how a unit stands in the shift.
type unitState int

const (
	unseen unitState = iota
	stillOpen
	passedFirst
	passedAgain
	hasFailed
)

// How many verdicts the takt is taken from, and the longest pause that counts
// as handling: beyond it the line stood still.
const (
	taktOver    = 20
	longestGap  = 15 * time.Minute
	restoreRuns = 5000 // of the newest runs, looked through at first when a station starts
	longestRun  = 24 * time.Hour
)

// Add counts a run, if it is one that the tally is about: one without a key
// pressed says nothing of a unit and is no start of its test, unless it failed the unit.
func (t *Tally) Add(r runs.Summary) {
	ended := r.Started.Add(r.Duration)
	if (Counted{r.Product, r.Jig, r.Simulated}) != t.Of || r.Purpose != sequence.Production || ended.Before(t.Since) ||
		r.Actuation == sequence.Electrical && r.Outcome != sequence.Fail {
		return
	}
	if t.units == nil {
		t.units = map[string]unitState{}
	}
	before := t.units[r.Serial]
	now := before.after(r)
	t.units[r.Serial] = now
	*t.of(before)--
	*t.of(now)++
	t.Units = len(t.units)
	if r.Turn == 1 {
		t.Begun++
		if r.Outcome == sequence.Pass && r.Attempt == 1 {
			t.AtOnce++
		}
	}
	t.time(r.Duration, ended)
}

// after is how a unit stands after one more run.
func (s unitState) after(r runs.Summary) unitState {
	switch {
	case r.Outcome == sequence.Fail:
		return hasFailed
	case r.Outcome == sequence.Pass && (r.Attempt == 1 || s == passedFirst):
		return passedFirst
	case r.Outcome == sequence.Pass:
		return passedAgain
	case s == unseen:
		return stillOpen
	}
	return s
}

// of is the figure in which units that stand so are counted.
func (t *Tally) of(s unitState) *int {
	switch s {
	case stillOpen:
		return &t.Open
	case passedFirst:
		return &t.First
	case passedAgain:
		return &t.Retest
	case hasFailed:
		return &t.Failed
	}
	return new(int) // of units that were not seen
}

func (t *Tally) time(machine time.Duration, ended time.Time) {
	t.Machine, t.Handling = machine, 0
	if gap := ended.Sub(t.last); !t.last.IsZero() && gap > 0 && gap < longestGap {
		t.Handling = max(gap-machine, 0)
		t.gaps = append(t.gaps, gap)
		t.gaps = t.gaps[max(0, len(t.gaps)-taktOver):]
		sorted := slices.Sorted(slices.Values(t.gaps))
		t.Takt = sorted[len(sorted)/2]
	}
	t.last = ended
}

// SinceShift are the newest runs back to a time, and maybe some before, newest first. Where
// many lanes share the records a shift has more runs than are looked through at first.
func SinceShift(recent func(n int) ([]runs.Summary, error), since time.Time) ([]runs.Summary, error) {
	for n := restoreRuns; ; n *= 4 {
		list, err := recent(n)
		if err != nil || len(list) < n || list[len(list)-1].Started.Before(since.Add(-longestRun)) {
			return list, err
		}
	}
}

// StartShift begins a new count when another shift has begun.
func (t *Tally) StartShift(shift time.Time) {
	if !t.Since.Equal(shift) {
		*t = Tally{Of: t.Of, Since: shift, last: t.last}
	}
}

// ShiftStart is when the shift began that now lies in, by the local clock;
// starts are times since midnight. With none a shift begins at midnight.
func ShiftStart(now time.Time, starts []time.Duration) time.Time {
	year, month, day := now.Date()
	if len(starts) == 0 {
		return time.Date(year, month, day, 0, 0, 0, 0, now.Location())
	}
	var latest time.Time
	for back := range 2 {
		for _, s := range starts {
			at := time.Date(year, month, day-back, 0, 0, int(s/time.Second), 0, now.Location())
			if !at.After(now) && at.After(latest) {
				latest = at
			}
		}
	}
	return latest
}

// Shown is the tally without what it counts by: a copy of its own.
func (t Tally) Shown() Tally {
	t.units, t.gaps = nil, nil
	return t
}
