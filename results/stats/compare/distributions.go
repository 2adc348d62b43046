package compare

import (
	"math"
	"slices"

	"padjig/results/stats"
)

// DistributionTest is the outcome of [KolmogorovSmirnov].
type DistributionTest struct {
	D     float64 // largest distance of the two empirical distributions
	Plus  float64 // largest by which the first is above: its values are smaller
	Minus float64
	P     float64 // two-sided
	Exact bool    // else by the Kolmogorov limit
	// PlusP, MinusP are the one-sided p-values for Plus and Minus.
	PlusP, MinusP float64
}

// exactPaths is up to how many lattice points the paths are counted out.
const exactPaths = 1_000_000

// KolmogorovSmirnov tests whether two groups have one distribution, in level,
// spread and shape at once (Smirnov 1939). Exact by counting lattice paths
// (Hodges 1957) when n1 n2 is at most a million; with ties the p-value of the
// case without ties is taken, which is too large rather than too small. Errors: an
// empty group, not finite.
func KolmogorovSmirnov(x, y []float64) (DistributionTest, error) {
	if err := stats.UsableGroups([][]float64{x, y}, 2, 1); err != nil {
		return DistributionTest{}, err
	}
	plus, minus := distances(x, y)
	m, n := len(x), len(y)
	scale := float64(m) * float64(n)
	t := DistributionTest{D: float64(max(plus, minus)) / scale, Plus: float64(plus) / scale, Minus: float64(minus) / scale}
	t.Exact = m*n <= exactPaths
	if !t.Exact {
		t.limits(math.Sqrt(scale / float64(m+n)))
		return t, nil
	}
	t.P = outsideBand(m, n, max(plus, minus), max(plus, minus))
	t.PlusP = outsideBand(m, n, plus, m*n+1)
	t.MinusP = outsideBand(m, n, m*n+1, minus)
	return t, nil
}

// distances are the largest of F1-F2 and F2-F1, times m n so as to be whole.
func distances(x, y []float64) (plus, minus int) {
	a, b := slices.Sorted(slices.Values(x)), slices.Sorted(slices.Values(y))
	i, j := 0, 0
	for i < len(a) || j < len(b) {
		at := math.Inf(1)
		if i < len(a) {
			at = a[i]
		}
		if j < len(b) {
			at = min(at, b[j])
		}
		for i < len(a) && a[i] == at {
			i++
		}
		for j < len(b) && b[j] == at {
			j++
		}
		d := i*len(b) - j*len(a)
		plus, minus = max(plus, d), max(minus, -d)
	}
	return plus, minus
}

// outsideBand is the probability that a random order of m and n values brings
// F1-F2, times m n, to plus or F2-F1 to minus somewhere. It walks all paths
// through the lattice of (i, j) values passed, each next value being of the
// first group with chance (m-i)/(m-i+n-j), and gathers what touches the band,
// so that small probabilities keep their digits.
func outsideBand(m, n, plus, minus int) float64 {
	inside := make([]float64, n+1)
	outside := 0.0
	for i := range m + 1 {
		for j := range n + 1 {
			p := arrive(inside, i, j, m, n)
			if d := i*n - j*m; d >= plus || -d >= minus {
				outside += p
				p = 0
			}
			inside[j] = p
		}
	}
	return min(1, outside)
}

// arrive is the chance to pass (i, j): from (i-1, j), which inside[j] still
// holds, or from (i, j-1).
func arrive(inside []float64, i, j, m, n int) float64 {
	if i == 0 && j == 0 {
		return 1
	}
	p := 0.0
	if i > 0 {
		left := float64(m - i + 1)
		p += inside[j] * left / (left + float64(n-j))
	}
	if j > 0 {
		left := float64(n - j + 1)
		p += inside[j-1] * left / (left + float64(m-i))
	}
	return p
}

// limits are the p-values for large samples: 2 sum (-1)^(k-1) exp(-2 k^2 l^2)
// with l = root D, and exp(-2 l^2) one-sided.
func (t *DistributionTest) limits(root float64) {
	t.P = kolmogorovLimit(root * t.D)
	t.PlusP = math.Exp(-2 * root * root * t.Plus * t.Plus)
	t.MinusP = math.Exp(-2 * root * root * t.Minus * t.Minus)
}

func kolmogorovLimit(l float64) float64 {
	if l < 0.2 { // the series needs many terms there, and the value is 1 - 1e-12
		return 1
	}
	total, sign := 0.0, 1.0
	for k := 1.0; k <= 100; k++ {
		total += sign * math.Exp(-2*k*k*l*l)
		sign = -sign
	}
	return min(1, max(0, 2*total))
}
