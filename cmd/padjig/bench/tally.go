package bench

import (
	"slices"
	"time"

	"padjig/sequence"
)

// Tally counts what a lane did in the shift.
type Tally struct {
	Since     time.Time     // the shift began
	Units     int           // judged for the first time
	FirstPass int           // of them, passed at the first attempt
	Passed    int           // runs that passed
	Failed    int           // runs that failed
	Other     int           // runs that say nothing of the unit
	Takt      time.Duration // median from verdict to verdict, 0 before there are two
	Machine   time.Duration // of the last unit: tested
	Handling  time.Duration // of the last unit: from the verdict before to its start; 0 when not known

	gaps []time.Duration // the last ones
	last time.Time       // verdict
}

// How many verdicts the takt is taken from, and the longest pause that counts
// as handling: beyond it the line stood still.
const (
	taktOver    = 20
	longestGap  = 15 * time.Minute
	restoreRuns = 5000 // of the newest runs, looked through when a station starts
)

// add counts a run that ended at a time; turn is the how many-eth judged run of
// its unit it is.
func (t *Tally) add(run sequence.Run, turn int, ended time.Time) {
	switch run.Outcome {
	case sequence.Pass:
		t.Passed++
	case sequence.Fail:
		t.Failed++
	default:
		t.Other++
	}
	if turn == 1 {
		t.Units++
		if run.Outcome == sequence.Pass && run.Attempt == 1 {
			t.FirstPass++
		}
	}
	t.time(run.Duration, ended)
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

// turn begins a new count when another shift has begun.
func (t *Tally) turn(shift time.Time) {
	if !t.Since.Equal(shift) {
		*t = Tally{Since: shift, last: t.last}
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
