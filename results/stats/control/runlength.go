package control

import (
	"math"
	"math/rand/v2"

	"padjig/results/stats/numeric"
)

// chain is an absorbing Markov chain, by rows: to[i][j] from state i to state
// j, out[i] from i to the alarm. It starts in state 0.
type chain struct {
	to  [][]float64
	out []float64
}

// meanSteps is the mean number of steps to the alarm from state 0.
func (c chain) meanSteps() float64 { return c.reduced()[0] }

// waits is the mean number of steps to the alarm from each state.
func (c chain) waits() []float64 {
	steps := c.reduced()
	for k := 1; k < len(steps); k++ {
		// steps[k] and to[k][:k] are what was left of state k when it went.
		for j := range k {
			steps[k] += c.to[k][j] * steps[j]
		}
	}
	return steps
}

// reduced takes the states out one after another, last first. What would be a
// difference, one minus what stays, is taken as the sum of what leaves
// (Grassmann, Taksar and Heyman 1985): nothing is subtracted, so run lengths of
// 1e13 are as exact as those of 10. It returns for each state the mean steps
// spent before a lower state or the alarm is reached, and leaves in to[k][:k]
// the shares with which that lower state is j. The chain is used up.
func (c chain) reduced() []float64 {
	steps := make([]float64, len(c.out))
	for i := range steps {
		steps[i] = 1
	}
	for k := len(c.out) - 1; k >= 0; k-- {
		leaves := c.out[k] + numeric.Sum(c.to[k][:k])
		steps[k] /= leaves
		for j := range k {
			c.to[k][j] /= leaves
		}
		c.out[k] /= leaves
		for i := range k {
			c.passOn(i, k, steps)
		}
	}
	return steps
}

// passOn lets state i go where k goes, in place of k.
func (c chain) passOn(i, k int, steps []float64) {
	share := c.to[i][k]
	if share == 0 {
		return
	}
	for j := range k {
		c.to[i][j] += share * c.to[k][j]
	}
	c.out[i] += share * c.out[k]
	steps[i] += share * steps[k]
}

// RunLength says how long a set of rules waits for its first alarm.
type RunLength struct {
	Mean float64 // average run length, in points
	// StandardError is 0 where Mean is exact, else that of the simulation.
	StandardError float64
}

// FalseAlarmRate is false alarms per point in the long run, for the run
// length of a process in order.
func (r RunLength) FalseAlarmRate() float64 { return 1 / r.Mean }

// simulatedRuns is how many runs stand behind a simulated mean: a standard
// error of one per cent, since a run length's spread is near its mean.
const simulatedRuns = 10_000

// RunLength is the average run length of the set for normal, independent
// points whose mean lies shift sigmas off the centre, from an empty memory.
// It is exact by a Markov chain for any set of the rules that look at zones
// (after Champ and Woodall 1987), and for the rules of steps alone. A set that
// mixes the two is simulated, with a fixed seed and the standard error given.
func (s Rules) RunLength(shift float64) RunLength {
	if len(s) == 0 {
		return RunLength{Mean: math.Inf(1)}
	}
	if s.zonesOnly() {
		c := s.chain(shift)
		return RunLength{Mean: c.meanSteps()}
	}
	if len(s) == 1 {
		return RunLength{Mean: stepRunLength(s[0])}
	}
	return s.SimulateRunLength(shift, simulatedRuns, 1)
}

func (s Rules) zonesOnly() bool { return !s.has(SixTrend) && !s.has(FourteenZig) }

// FalseAlarm is the probability of at least one false alarm within so many
// points of a process in order, for a set of zone rules. It is not ok for
// others.
func (s Rules) FalseAlarm(points int) (p float64, ok bool) {
	if !s.zonesOnly() {
		return 0, false
	}
	c := s.chain(0)
	at := numeric.PointAt(len(c.out), 0)
	for range points {
		next := make([]float64, len(at))
		for i, here := range at {
			p += here * c.out[i]
			for j, share := range c.to[i] {
				next[j] += here * share
			}
		}
		at = next
	}
	return p, true
}

// SimulateRunLength is [Rules.RunLength] by playing points until the alarm,
// so many runs. It checks the chain, and stands in where there is none.
func (s Rules) SimulateRunLength(shift float64, runs int, seed uint64) RunLength {
	source := rand.New(rand.NewPCG(seed, 0))
	lengths := make([]float64, runs)
	for i := range lengths {
		lengths[i] = s.play(source, shift)
	}
	return RunLength{Mean: numeric.Mean(lengths), StandardError: math.Sqrt(numeric.Variance(lengths) / float64(runs))}
}

// longestPattern is how many points back any rule looks.
const longestPattern = 15

func (s Rules) play(source *rand.Rand, shift float64) float64 {
	recent := make([]float64, 0, 64)
	for n := 1.0; ; n++ {
		if len(recent) == cap(recent) {
			recent = append(recent[:0], recent[len(recent)-longestPattern:]...)
		}
		recent = append(recent, source.NormFloat64()+shift)
		for _, r := range s {
			if r.completes(recent) {
				return n
			}
		}
	}
}

// WindowProbability is the probability that one window of a process in order,
// as long as the rule looks, shows the rule's pattern: independent normal
// points; 2 of 3 and 4 of 5 count wherever the odd one lies. It says how rare
// the pattern is; how often a chart alarms is [Rules.RunLength].
func (r Rule) WindowProbability() float64 {
	tail := numeric.UpperTail
	switch r {
	case Beyond3:
		return 2 * tail(3)
	case TwoOfThree2:
		p := tail(2)
		return 2 * (3*p*p*(1-p) + p*p*p)
	case FourOfFive1:
		p := tail(1)
		return 2 * (5*math.Pow(p, 4)*(1-p) + math.Pow(p, 5))
	case EightOneSide:
		return 2 * math.Pow(0.5, 8)
	case NineOneSide:
		return 2 * math.Pow(0.5, 9)
	case SixTrend:
		return 2 / math.Gamma(7)
	case FourteenZig:
		return zigzags(14)
	case FifteenIn1:
		return math.Pow(1-2*tail(1), 15)
	case EightOut1:
		return math.Pow(2*tail(1), 8)
	}
	return math.NaN()
}

// zigzags is the share of orders of n values that go up and down in turn:
// twice the Euler zigzag number over n!, by Seidel's triangle.
func zigzags(n int) float64 {
	row := []float64{1}
	factorial := 1.0
	for i := 1; i < n; i++ {
		next := make([]float64, i+1)
		for j := 1; j <= i; j++ {
			next[j] = next[j-1] + row[i-j]
		}
		row = next
		factorial *= float64(i + 1)
	}
	return 2 * numeric.Sum(row) / factorial
}
