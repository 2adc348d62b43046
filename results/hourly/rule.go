package hourly

// Run is a run as the counts go by it.
type Run struct {
	Verdict string // what it counts as: pass, fail, or one that is no judgement
	As      string // the purpose it counts as, empty for production
	Attempt int64
}

// Counts are what runs add to a cell. A run adds to its own cell, and a run that changes what is said
// of its unit in the end to LastPassed of the cell of the unit's first judged run.
type Counts struct {
	Runs, Reseat, Incomplete, Aborted int64
	Units, FirstPassed, LastPassed    int64 // units judged first there; of them passed at once, passed in the end
	Retests, Cures, Relapses          int64 // judged again; of them passed after a fail, failed after a pass
}

// Plus adds other counts so many times, or takes them out by -1.
func (c Counts) Plus(by int64, d Counts) Counts {
	return Counts{
		c.Runs + by*d.Runs, c.Reseat + by*d.Reseat, c.Incomplete + by*d.Incomplete, c.Aborted + by*d.Aborted,
		c.Units + by*d.Units, c.FirstPassed + by*d.FirstPassed, c.LastPassed + by*d.LastPassed,
		c.Retests + by*d.Retests, c.Cures + by*d.Cures, c.Relapses + by*d.Relapses,
	}
}

// Unit is how a unit stands after some of its runs, those as one product and for one purpose, simulated
// ones apart. The zero value has no run.
type Unit struct {
	Judged int64 // runs of it that were judged
	Passed bool  // the last of these
}

// Next takes the next run of the unit in the order of the runs. This is the rule of all counts: turn is
// where the run stands among the judged runs of the unit, 0 when it is not judged, own what it adds to
// its cell, and finally what it adds to LastPassed of the cell of the unit's first judged run.
// Its readings are counted where turn is 1.
func (u Unit) Next(run Run) (after Unit, turn int64, own Counts, finally int64) {
	own = Counts{Runs: 1, Reseat: one(run.Verdict == "reseat"), Incomplete: one(run.Verdict == "incomplete"), Aborted: one(run.Verdict == "aborted")}
	passed := run.Verdict == "pass"
	if !passed && run.Verdict != "fail" {
		return u, 0, own, 0
	}
	after = Unit{Judged: u.Judged + 1, Passed: passed}
	if u.Judged == 0 {
		own.Units, own.LastPassed = 1, one(passed)
		// An attempt before it that was not judged, as one that was never finished,
		// takes the first pass away.
		own.FirstPassed = one(passed && (run.As != "" || run.Attempt == 1))
		return after, 1, own, 0
	}
	own.Retests, own.Cures, own.Relapses = 1, one(passed && !u.Passed), one(!passed && u.Passed)
	return after, after.Judged, own, own.Cures - own.Relapses
}

func one(yes bool) int64 {
	if yes {
		return 1
	}
	return 0
}
