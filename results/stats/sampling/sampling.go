// Package sampling is deciding on some of the units or on some of the tests:
// acceptance plans, testing again, and when to stop a line.
package sampling

import (
	"errors"
	"fmt"
	"math"

	"padjig/results/stats/numeric"

	"gonum.org/v1/gonum/mathext"
)

// A Plan is single sampling: of a lot, N units are tested, and the lot is
// accepted when at most Accept of them fail.
type Plan struct{ N, Accept int }

// Check reports a plan that is none.
func (p Plan) Check() error {
	if p.N < 1 || p.Accept < 0 || p.Accept >= p.N {
		return fmt.Errorf("testing %d and accepting up to %d failed decides nothing", p.N, p.Accept)
	}
	return nil
}

// Accepts is the chance that a lot with a share p of bad units is accepted,
// drawn from a steady process (binomial): the operating characteristic, as the
// incomplete beta function, which costs the same for a sample of any size.
func (p Plan) Accepts(share float64) float64 {
	if share <= 0 || p.Accept >= p.N {
		return 1
	}
	return mathext.RegIncBeta(float64(p.N-p.Accept), float64(p.Accept+1), 1-share)
}

// ShareAccepted is the share of bad units at which lots are accepted with the
// given chance: a beta quantile.
func (p Plan) ShareAccepted(chance float64) float64 {
	return numeric.BetaQuantile(float64(p.Accept+1), float64(p.N-p.Accept), 1-chance)
}

// Risks are two points an operating characteristic must pass: lots with a
// share Good of bad units are rejected at most with chance Producer, lots
// with a share Bad are accepted at most with chance Consumer.
type Risks struct{ Good, Producer, Bad, Consumer float64 }

// Check reports points no plan can pass.
func (r Risks) Check() error {
	var problems []error
	if !(0 < r.Good && r.Good < r.Bad && r.Bad < 1) {
		problems = append(problems, fmt.Errorf("the good share %v must lie above 0 and below the bad share %v, which lies below 1", r.Good, r.Bad))
	}
	if !(0 < r.Producer && 0 < r.Consumer && r.Producer+r.Consumer < 1) {
		problems = append(problems, fmt.Errorf("the risks %v and %v must lie above 0 and add up to less than 1", r.Producer, r.Consumer))
	}
	return errors.Join(problems...)
}

// The search for a plan is bounded: beyond so many failed, or so many tested, the two
// shares lie so close, or bad units are so rare, that nobody would sample.
const (
	mostAccepted = 500
	mostTested   = 1 << 30
)

// Design is the smallest plan that keeps both risks, by the binomial law.
// Errors: [Risks.Check]; shares so close that more than 500 failed units would
// have to be told from each other.
func (r Risks) Design() (Plan, error) {
	if err := r.Check(); err != nil {
		return Plan{}, err
	}
	for accept := range mostAccepted {
		p := Plan{N: leastN(accept, r.Consumer, func(p Plan) float64 { return p.Accepts(r.Bad) }), Accept: accept}
		if p.N > mostTested {
			return Plan{}, fmt.Errorf("a share of %v is too small to be found by sampling", r.Bad)
		}
		if p.Accepts(r.Good) >= 1-r.Producer {
			return p, nil
		}
	}
	return Plan{}, fmt.Errorf("a share of %v and one of %v lie too close to be told apart by sampling", r.Good, r.Bad)
}

// leastN is the least sample with which so many failed are rare in a bad lot, by how often
// plans accept it; above mostTested where there is none.
func leastN(accept int, rare float64, accepts func(Plan) float64) int {
	low, high := accept, accept+1
	for high <= mostTested && accepts(Plan{N: high, Accept: accept}) > rare {
		low, high = high, 2*high
	}
	for high-low > 1 {
		if mid := (low + high) / 2; accepts(Plan{N: mid, Accept: accept}) > rare {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// Sequential is Wald's sequential test of a share (1947): after each unit,
// accept below one line, reject above another, else go on. Of n tested and x
// failed, accept when x <= Slope n - Below, reject when x >= Slope n + Above.
type Sequential struct {
	Risks
	Below, Above, Slope float64
}

// NewSequential draws the lines. Errors: [Risks.Check].
func NewSequential(r Risks) (Sequential, error) {
	if err := r.Check(); err != nil {
		return Sequential{}, err
	}
	k := math.Log(r.Bad * (1 - r.Good) / (r.Good * (1 - r.Bad)))
	return Sequential{
		Risks: r,
		Below: math.Log((1-r.Producer)/r.Consumer) / k,
		Above: math.Log((1-r.Consumer)/r.Producer) / k,
		Slope: math.Log((1-r.Good)/(1-r.Bad)) / k,
	}, nil
}

// At gives the numbers after n units: accept at up to accept failed, reject at
// reject or more. Where n is too small for one of them, it is -1.
func (s Sequential) At(n int) (accept, reject int) {
	accept = max(-1, int(math.Floor(s.Slope*float64(n)-s.Below)))
	if reject = int(math.Ceil(s.Slope*float64(n) + s.Above)); reject > n {
		reject = -1
	}
	return accept, reject
}

// mostSequential bounds the walk of [Sequential.Exact]; a test not decided by
// then is rarer than rounding.
const mostSequential = 1_000_000

// Exact is the chance of acceptance and the average number tested as they
// are, by following every count that is still undecided after each unit.
func (s Sequential) Exact(share float64) (accepted, tested float64) {
	return s.follow(mostSequential, func(int, int) float64 { return share })
}

// ExactOf is the same for one lot, whose bad units become fewer with each that is found. A lot
// that was tested whole before it was decided is not accepted by it: every unit is known.
func (s Sequential) ExactOf(l Lot) (accepted, tested float64) {
	return s.follow(l.Size, func(n, x int) float64 { return max(0, float64(l.Bad-x)/float64(l.Size-n)) })
}

// follow takes the chance that the next unit is bad after n of which x were.
func (s Sequential) follow(most int, bad func(n, x int) float64) (accepted, tested float64) {
	undecided := []float64{1} // by number failed
	for n := 1; n <= most; n++ {
		open := numeric.Sum(undecided)
		if open < 1e-15 {
			break
		}
		tested += open
		next := make([]float64, len(undecided)+1)
		for x, p := range undecided {
			share := bad(n-1, x)
			next[x] += p * (1 - share)
			next[x+1] += p * share
		}
		accept, reject := s.At(n)
		for x := 0; x <= accept && x < len(next); x++ {
			accepted += next[x]
			next[x] = 0
		}
		if reject >= 0 && reject < len(next) {
			next = next[:reject]
		}
		undecided = next
	}
	return accepted, tested
}
