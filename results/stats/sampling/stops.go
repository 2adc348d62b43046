package sampling

import (
	"math"

	"padjig/results/stats/numeric"
)

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
// how often a line in order would be halted is [StopRule.InShift].
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

// FalseStops is how often chance alone halts a line in a shift.
type FalseStops struct {
	SameRun float64 // at most: as if every fail had the same cause
	Yield   float64
	Any     float64 // at most
}

// InShift gives the probabilities that a line in order, whose units pass independently and
// each with the given probability, is halted within so many units that follow others.
//
// A row of fails is counted exactly. That some window falls below the yield is the
// distribution of the scan statistic, after Naus (Approximations for distributions of scan
// statistics, 1982, formulas from memory): exact for two and three windows, and off by less
// than 0.001 beyond, which is tested. Both come with more fails, so that neither comes at least
// as often as if they were independent.
func (r StopRule) InShift(yield float64, units int) FalseStops {
	out := FalseStops{}
	if r.SameRun > 0 {
		out.SameRun = RunWithin(r.SameRun, units+r.SameRun-1, 1-yield)
	}
	if r.Window > 0 {
		out.Yield = scan{r.Window, r.fails(), 1 - yield}.within(units + r.Window - 1)
	}
	out.Any = 1 - (1-out.SameRun)*(1-out.Yield)
	return out
}

// fails is how many fails in a window halt the line, more than the window where none do.
func (r StopRule) fails() int {
	for fails := range r.Window + 1 {
		if float64(r.Window-fails) < r.MinYield*float64(r.Window) {
			return fails
		}
	}
	return r.Window + 1
}

// RunWithin is the probability of a row of so many events among trials of which each is one
// with probability p.
func RunWithin(length, trials int, p float64) float64 {
	// open[i] is the probability that there was none so far and the last i trials were events.
	open := make([]float64, length)
	open[0] = 1
	met := 0.0
	for range trials {
		none := 0.0
		for _, o := range open {
			none += o
		}
		met += open[length-1] * p
		for i := length - 1; i > 0; i-- {
			open[i] = open[i-1] * p
		}
		open[0] = none * (1 - p)
	}
	return met
}

// scan is about windows with at least so many fails.
type scan struct {
	window, fails int
	p             float64
}

// within is the probability of such a window among so many trials, not fewer than a window.
func (s scan) within(trials int) float64 {
	if s.fails > s.window {
		return 0
	}
	one, two, three := s.one(), s.two(), s.three()
	windows := float64(trials) / float64(s.window)
	switch {
	case two <= 0:
		return 1
	case windows < 2:
		return 1 - one*math.Pow(two/one, windows-1)
	}
	return 1 - two*math.Pow(three/two, windows-2)
}

// law gives the binomial law of the fails in a window with so many trials less, and how
// likely at most some are.
func (s scan) law(less int) (exactly, atMost func(int) float64) {
	law := numeric.BinomialLaw(s.window-less, s.p)
	sums := make([]float64, len(law))
	sum := 0.0
	for i, p := range law {
		sum += p
		sums[i] = sum
	}
	at := func(list []float64, beyond float64) func(int) float64 {
		return func(i int) float64 {
			switch {
			case i < 0:
				return 0
			case i >= len(list):
				return beyond
			}
			return list[i]
		}
	}
	return at(law, 0), at(sums, 1)
}

func (s scan) one() float64 {
	_, atMost := s.law(0)
	return atMost(s.fails - 1)
}

// two is how likely there is none in two windows, three in three.
func (s scan) two() float64 {
	k, mean := s.fails, float64(s.window)*s.p
	b, f := s.law(0)
	_, f1 := s.law(1)
	return sq(f(k-1)) - float64(k-1)*b(k)*f(k-2) + mean*b(k)*f1(k-3)
}

func (s scan) three() float64 {
	k, w := s.fails, float64(s.window)
	n, mean := float64(k), w*s.p
	b, f := s.law(0)
	_, f1 := s.law(1)
	_, f2 := s.law(min(2, s.window))
	total := f(k-1)*sq(f(k-1)) - 2*b(k)*f(k-1)*((n-1)*f(k-2)-mean*f1(k-3)) +
		0.5*sq(b(k))*((n-1)*(n-2)*f(k-3)-2*(n-2)*mean*f1(k-4)+w*(w-1)*sq(s.p)*f2(k-5))
	for r := 1; r < k; r++ {
		total += b(2*k-r) * sq(f(r-1))
		total -= b(2*k-r) * b(r) * (float64(r-1)*f(r-2) - mean*f1(r-3))
	}
	return total
}

func sq(x float64) float64 { return x * x }
