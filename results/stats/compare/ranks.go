package compare

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
)

// RankTest is the outcome of [MannWhitney].
type RankTest struct {
	N1, N2  int
	U       float64 // pairs in which the first value is larger; ties count half
	P       float64 // two-sided
	Less    float64 // the first group tends to be smaller
	Greater float64
	Exact   bool           // else by the normal approximation, corrected for ties and continuity
	Shift   float64        // Hodges and Lehmann: the median of all differences, first minus second
	Shifts  stats.Interval // for the shift
	// Larger is the share of pairs in which the first is larger, U/(n1 n2):
	// 0.5 says that the groups cannot be told apart.
	Larger float64
}

// exactRanks is up to how many values in either group ranks are counted out.
const exactRanks = 50

// MannWhitney tests whether one group's values tend to be larger (Mann and
// Whitney 1947), with no assumption on their distribution. Without ties and
// with fewer than 50 values in each group the p-value is exact. Large samples
// find differences that matter to nobody: look at Shift. The interval of the
// shift assumes two distributions of one shape. Errors: an empty group, not
// finite.
func MannWhitney(x, y []float64, confidence float64) (RankTest, error) {
	return RankLaws{}.MannWhitney(x, y, confidence)
}

// RankLaws are the laws of U by the sizes of the groups. Whoever tests many groups of the same sizes keeps them from test to test.
type RankLaws map[[2]int][]float64

// MannWhitney is [MannWhitney] with the laws that were needed before.
func (l RankLaws) MannWhitney(x, y []float64, confidence float64) (RankTest, error) {
	if err := stats.UsableGroups([][]float64{x, y}, 2, 1); err != nil {
		return RankTest{}, err
	}
	if err := stats.CheckConfidence(confidence); err != nil {
		return RankTest{}, err
	}
	ranks, ties := ranked(slices.Concat(x, y))
	m, n := float64(len(x)), float64(len(y))
	t := RankTest{N1: len(x), N2: len(y), U: numeric.Sum(ranks[:len(x)]) - m*(m+1)/2}
	t.Larger = t.U / (m * n)
	t.Exact = ties == 0 && len(x) < exactRanks && len(y) < exactRanks
	var law []float64
	if t.Exact {
		law = l.of(len(x), len(y))
		t.exact(law)
	} else {
		t.normal(rankSD(m, n, ties))
	}
	t.Shift, t.Shifts = hodgesLehmann(x, y, confidence, law, rankSD(m, n, ties))
	return t, nil
}

func (l RankLaws) of(m, n int) []float64 {
	law, known := l[[2]int{m, n}]
	if !known {
		law = rankLaw(m, n)
		l[[2]int{m, n}] = law
	}
	return law
}

func (t *RankTest) exact(p []float64) {
	u := int(t.U)
	t.Less, t.Greater = min(1, numeric.Sum(p[:u+1])), min(1, numeric.Sum(p[u:]))
	t.P = min(1, 2*min(t.Less, t.Greater))
}

func (t *RankTest) normal(sd float64) {
	if sd == 0 { // all values are equal
		t.P, t.Less, t.Greater = 1, 1, 1
		return
	}
	d := t.U - float64(t.N1)*float64(t.N2)/2
	t.Less = distuv.UnitNormal.CDF((d + 0.5) / sd)
	t.Greater = numeric.UpperTail((d - 0.5) / sd)
	t.P = min(1, 2*min(t.Less, t.Greater))
}

// rankSD is that of U: m n/12 ((N+1) - ties/(N(N-1))), under the root.
func rankSD(m, n, ties float64) float64 {
	N := m + n
	return math.Sqrt(m * n / 12 * (N + 1 - ties/(N*(N-1))))
}

// ranked gives each value its rank from 1, ties their mean, and the sum of
// t^3-t over ties of t.
func ranked(values []float64) (ranks []float64, ties float64) {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return values[order[a]] < values[order[b]] })
	ranks = make([]float64, len(values))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && values[order[j]] == values[order[i]] {
			j++
		}
		for _, at := range order[i:j] {
			ranks[at] = float64(i+j+1) / 2
		}
		t := float64(j - i)
		ties += t*t*t - t
		i = j
	}
	return ranks, ties
}

// rankLaw is the distribution of U for m and n values without ties: adding
// the values of the second group one at a time, U's generating function is
// the product of (1-q^(m+i))/(1-q^i).
func rankLaw(m, n int) []float64 {
	counts := make([]float64, m*n+1)
	counts[0] = 1
	for i := 1; i <= n; i++ {
		for u := len(counts) - 1; u >= m+i; u-- {
			counts[u] -= counts[u-m-i]
		}
		for u := i; u < len(counts); u++ {
			counts[u] += counts[u-i]
		}
	}
	total := numeric.Sum(counts)
	for u := range counts {
		counts[u] /= total
	}
	return counts
}

// hodgesLehmann is the median of the differences x-y, and the interval
// between those that the test's critical value cuts off at either end, by the exact law where there is one.
func hodgesLehmann(x, y []float64, confidence float64, law []float64, sd float64) (float64, stats.Interval) {
	d := newDifferences(x, y)
	total := len(x) * len(y)
	shift := (d.smallest((total+1)/2) + d.smallest(total/2+1)) / 2
	cut := criticalPairs(len(x), len(y), (1-confidence)/2, law, sd)
	return shift, stats.Interval{Low: d.smallest(cut), High: d.smallest(total + 1 - cut), Confidence: confidence}
}

// criticalPairs is how many differences lie at or beyond each end of the
// interval: the least u with P(U <= u) >= risk, at least 1. Without a law it is that of the normal approximation.
func criticalPairs(m, n int, risk float64, law []float64, sd float64) int {
	if law == nil {
		u := float64(m)*float64(n)/2 + numeric.NormalQuantile(risk)*sd
		return max(1, int(math.Round(u)))
	}
	total := 0.0
	for u, p := range law {
		if total += p; total >= risk {
			return max(1, u)
		}
	}
	return 1
}

// differences finds the k-th smallest x-y without forming all of them.
type differences struct{ x, y []float64 }

func newDifferences(x, y []float64) differences {
	return differences{slices.Sorted(slices.Values(x)), slices.Sorted(slices.Values(y))}
}

// smallest is the k-th, k from 1: the least float64 with k differences not
// above it.
func (d differences) smallest(k int) float64 {
	low := d.x[0] - d.y[len(d.y)-1]
	high := d.x[len(d.x)-1] - d.y[0]
	if d.atMost(low) >= k {
		return low
	}
	for {
		mid := low + (high-low)/2
		if !(low < mid && mid < high) { // also for NaN
			return high
		}
		if d.atMost(mid) >= k {
			high = mid
		} else {
			low = mid
		}
	}
}

// atMost counts the differences not above t, in one walk over both.
func (d differences) atMost(t float64) int {
	count, j := 0, 0
	for j < len(d.y) && d.x[0]-d.y[j] > t {
		j++
	}
	for _, x := range d.x {
		for j < len(d.y) && x-d.y[j] > t {
			j++
		}
		count += len(d.y) - j
	}
	return count
}
