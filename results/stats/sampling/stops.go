package sampling

import "padjig/results/stats/numeric"

// A Stop is a reason to halt a line, seen in the order of its units.
type Stop struct {
	At     int    // index of the unit at which the rule was met, from 0
	Reason string // the cause that ran; "" for yield
	Run    int    // units in the run of one cause
	Passed int    // of the last Window units; for yield
	Window int
}

// A StopRule halts a line on what its last units were. A zero field switches
// that part off.
type StopRule struct {
	Window   int     // judge the share passed of the last Window units...
	MinYield float64 // ...and stop when it is below this
	SameRun  int     // stop when this many units in a row failed for one cause
}

// Stops lists where the rule would have halted a line. causes holds one entry
// a unit in order: "" for one that passed, else its leading cause. After a
// stop the count begins anew, as after a repair. Common practice, no source;
// how often a line in order would be halted is [StopRule.FalseStops].
func (r StopRule) Stops(causes []string) []Stop {
	var stops []Stop
	start := 0
	for i := range causes {
		stop, met := r.at(causes[start : i+1])
		if met {
			stop.At = i
			stops = append(stops, stop)
			start = i + 1
		}
	}
	return stops
}

// at judges the rule at the last of causes.
func (r StopRule) at(causes []string) (Stop, bool) {
	if run := tailRun(causes); r.SameRun > 0 && run >= r.SameRun {
		return Stop{Reason: causes[len(causes)-1], Run: run}, true
	}
	if r.Window <= 0 || len(causes) < r.Window {
		return Stop{}, false
	}
	passed := 0
	for _, c := range causes[len(causes)-r.Window:] {
		if c == "" {
			passed++
		}
	}
	return Stop{Passed: passed, Window: r.Window}, float64(passed) < r.MinYield*float64(r.Window)
}

// tailRun counts how many of the last units failed for the last one's cause.
func tailRun(causes []string) int {
	run := 0
	for i := len(causes) - 1; i >= 0 && causes[i] != "" && causes[i] == causes[len(causes)-1]; i-- {
		run++
	}
	return run
}

// FalseStops is the probability that a window of units, each passing with the
// given probability, falls below the rule's yield by chance alone: the
// binomial tail. Without a window it is 0.
func (r StopRule) FalseStops(yield float64) float64 {
	if r.Window <= 0 {
		return 0
	}
	p := numeric.BinomialLaw(r.Window, yield)
	total := 0.0
	for passed, prob := range p {
		if float64(passed) < r.MinYield*float64(r.Window) {
			total += prob
		}
	}
	return total
}
