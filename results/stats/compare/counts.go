// Package compare tests whether groups differ, by their counts, ranks, means,
// variances or whole distributions, and adjusts for many tests at once.
package compare

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
	"padjig/results/stats/interval"
	"padjig/results/stats/numeric"
)

// A Table2 is a fourfold table: two groups by rows, the counts with and
// without a property by columns, say failed and passed.
type Table2 [2][2]int

func (t Table2) total() int { return t.rowSum(0) + t.rowSum(1) }

func (t Table2) rowSum(r int) int { return t[r][0] + t[r][1] }
func (t Table2) colSum(c int) int { return t[0][c] + t[1][c] }

func (t Table2) check() error {
	for _, row := range t {
		for _, n := range row {
			if n < 0 {
				return fmt.Errorf("a count of %d cannot be", n)
			}
		}
	}
	if t.total() == 0 {
		return stats.ErrEmpty
	}
	return nil
}

// FisherTest is the exact test of a fourfold table.
type FisherTest struct {
	P       float64 // two-sided: tables no likelier than the one seen
	Less    float64 // the odds ratio is below 1
	Greater float64 // above 1
	// OddsRatio is the plain one, ad/bc; it is infinite or NaN with a zero in
	// the wrong place. Conditional is the likeliest given the margins.
	OddsRatio   float64
	Conditional float64
	Odds        stats.Interval // exact, for the odds ratio, given the margins
}

// Fisher tests whether two shares differ (Fisher 1922): all tables with the
// same margins, by the hypergeometric law. The two-sided p-value adds every
// table that is not likelier than the one seen. The interval holds the odds
// ratios that neither one-sided test rejects at half the risk (Cornfield
// 1956). It never errs on the wrong side, and is slow to convict. Errors: a
// negative count, an empty table. A margin of zero gives P = 1.
func Fisher(t Table2, confidence float64) (FisherTest, error) {
	if err := t.check(); err != nil {
		return FisherTest{}, err
	}
	if err := stats.CheckConfidence(confidence); err != nil {
		return FisherTest{}, err
	}
	law := t.law()
	test := FisherTest{
		Less: law.upTo(t[0][0]), Greater: law.from(t[0][0]), P: law.noLikelier(t[0][0]),
		OddsRatio:   float64(t[0][0]) * float64(t[1][1]) / (float64(t[0][1]) * float64(t[1][0])),
		Conditional: t.conditionalOdds(),
		Odds:        t.oddsInterval(confidence),
	}
	return test, nil
}

// FisherGreater is [FisherTest.Greater] alone, for tables of which there are many.
func FisherGreater(t Table2) (float64, error) {
	if err := t.check(); err != nil {
		return 0, err
	}
	return t.law().from(t[0][0]), nil
}

// FisherTwoSided is [FisherTest.P] alone: the odds ratio and its interval, which a table of millions is gone through a hundred times
// for, are left out.
func FisherTwoSided(t Table2) (float64, error) {
	if err := t.check(); err != nil {
		return 0, err
	}
	return t.law().noLikelier(t[0][0]), nil
}

// law is that of the first cell given the margins.
func (t Table2) law() cellLaw { return t.under(1, numeric.Underflow) }

// under is the law that odds other than 1 give, without what is less likely than the share lost of the likeliest.
func (t Table2) under(odds, lost float64) cellLaw {
	low, p := numeric.HypergeometricLaw(t.total(), t.colSum(0), t.rowSum(0), odds, lost)
	return cellLaw{low, p}
}

// ends are the least and the largest count that the first cell can have given the margins.
func (t Table2) ends() (low, high int) {
	return max(0, t.colSum(0)-t.rowSum(1)), min(t.colSum(0), t.rowSum(0))
}

// cellLaw is the distribution of a count, low that of its first probability; those that are left out are lost in rounding.
type cellLaw struct {
	low int
	p   []float64
}

// at is the place of a count among the probabilities, or the end on whose side it lies.
func (l cellLaw) at(count int) int { return min(max(count-l.low, 0), len(l.p)) }

// upTo is the chance of a count or fewer, from that of it or more.
func (l cellLaw) upTo(count int) float64 { return min(1, numeric.Sum(l.p[:l.at(count+1)])) }
func (l cellLaw) from(count int) float64 { return min(1, numeric.Sum(l.p[l.at(count):])) }

// noLikelier is the chance of all counts up to as likely as one; equal ones may
// differ in their last digits.
func (l cellLaw) noLikelier(count int) float64 {
	const roundingSlack = 1 + 1e-7
	at, most, total := count-l.low, 0.0, 0.0
	if 0 <= at && at < len(l.p) {
		most = l.p[at] * roundingSlack
	}
	for _, q := range l.p {
		if q <= most {
			total += q
		}
	}
	return min(1, total)
}

// expected is the mean of the counts.
func (l cellLaw) expected() float64 {
	sum := 0.0
	for i, q := range l.p {
		sum += float64(l.low+i) * q
	}
	return sum
}

// conditionalOdds is the odds ratio under which the first cell is expected as
// it is.
func (t Table2) conditionalOdds() float64 {
	switch low, high := t.ends(); {
	case low == high:
		return math.NaN()
	case t[0][0] == low:
		return 0
	case t[0][0] == high:
		return math.Inf(1)
	}
	return t.oddsWhere(func(l cellLaw) float64 { return l.expected() - float64(t[0][0]) })
}

func (t Table2) oddsInterval(confidence float64) stats.Interval {
	low, high := t.ends()
	risk := (1 - confidence) / 2
	i := stats.Interval{Low: 0, High: math.Inf(1), Confidence: confidence}
	if t[0][0] > low {
		i.Low = t.oddsWhere(func(l cellLaw) float64 { return l.from(t[0][0]) - risk })
	}
	if t[0][0] < high {
		i.High = t.oddsWhere(func(l cellLaw) float64 { return l.upTo(t[0][0]) - risk })
	}
	return i
}

// oddsWhere is the odds ratio at which f of the law crosses zero, looked for
// by its logarithm over all that float64 leaves sensible. Chances beside a risk and means lose nothing by what no sum shows.
func (t Table2) oddsWhere(f func(cellLaw) float64) float64 {
	const noSumShows = 1e-25
	return math.Exp(numeric.Crossing(-60, 60, func(logOdds float64) float64 { return f(t.under(math.Exp(logOdds), noSumShows)) }))
}

// ChiSquareTest is Pearson's test of a table.
type ChiSquareTest struct {
	Statistic float64
	DF        int
	P         float64
	// LeastExpected is the smallest expected count. Below 5 the P is rough:
	// take [Fisher] for a fourfold table.
	LeastExpected float64
}

// ChiSquare tests whether rows of counts have the same shares (Pearson 1900):
// the sum of (seen - expected)^2/expected, against chi-square with
// (r-1)(c-1). Errors: fewer than two rows or columns, rows of different
// length, negative counts, an empty row or column.
func ChiSquare(counts [][]int) (ChiSquareTest, error) {
	return pearson(counts, 0)
}

func pearson(counts [][]int, correction float64) (ChiSquareTest, error) {
	rows, cols, total, err := margins(counts)
	if err != nil {
		return ChiSquareTest{}, err
	}
	test := ChiSquareTest{DF: (len(rows) - 1) * (len(cols) - 1), LeastExpected: math.Inf(1)}
	for r, row := range counts {
		for c, n := range row {
			expected := rows[r] * cols[c] / total
			off := max(0, math.Abs(float64(n)-expected)-correction)
			test.Statistic += off * off / expected
			test.LeastExpected = min(test.LeastExpected, expected)
		}
	}
	test.P = distuv.ChiSquared{K: float64(test.DF)}.Survival(test.Statistic)
	return test, nil
}

func margins(counts [][]int) (rows, cols []float64, total float64, err error) {
	if len(counts) < 2 || len(counts[0]) < 2 {
		return nil, nil, 0, fmt.Errorf("a table needs two rows and two columns to compare")
	}
	rows, cols = make([]float64, len(counts)), make([]float64, len(counts[0]))
	for r, row := range counts {
		if len(row) != len(cols) {
			return nil, nil, 0, stats.ErrUnequal
		}
		for c, n := range row {
			if n < 0 {
				return nil, nil, 0, fmt.Errorf("a count of %d cannot be", n)
			}
			rows[r] += float64(n)
			cols[c] += float64(n)
			total += float64(n)
		}
	}
	for i, m := range append(append([]float64{}, rows...), cols...) {
		if m == 0 && i < len(rows) {
			return nil, nil, 0, fmt.Errorf("row %d of the table is empty", i+1)
		} else if m == 0 {
			return nil, nil, 0, fmt.Errorf("column %d of the table is empty: all counts are alike, there is nothing to compare", i-len(rows)+1)
		}
	}
	return rows, cols, total, nil
}

// StratifiedTest is the test of fourfold tables that each compare the same two
// groups, in strata such as lots.
type StratifiedTest struct {
	Statistic float64
	P         float64
	// Corrected is the statistic with half a count taken off, and its P.
	Corrected, CorrectedP float64
	OddsRatio             float64        // common to all strata, after Mantel and Haenszel
	Odds                  stats.Interval // after Robins, Breslow and Greenland (1986)
}

// CochranMantelHaenszel tests whether two groups differ, stratum by stratum,
// without pooling what the strata themselves do (Mantel and Haenszel 1959). A
// difference that turns round between strata cancels; look at each. Strata
// with an empty margin say nothing and add nothing. Errors: no stratum that
// says something, negative counts.
func CochranMantelHaenszel(strata []Table2, confidence float64) (StratifiedTest, error) {
	if err := stats.CheckConfidence(confidence); err != nil {
		return StratifiedTest{}, err
	}
	var difference, variance float64
	for i, t := range strata {
		if err := t.check(); err != nil {
			return StratifiedTest{}, fmt.Errorf("stratum %d: %w", i+1, err)
		}
		n := float64(t.total())
		difference += float64(t[0][0]) - float64(t.rowSum(0))*float64(t.colSum(0))/n
		if n > 1 {
			variance += float64(t.rowSum(0)) * float64(t.rowSum(1)) / (n * n) * float64(t.colSum(0)) * float64(t.colSum(1)) / (n - 1)
		}
	}
	if variance == 0 {
		return StratifiedTest{}, fmt.Errorf("no stratum has both groups and both outcomes: there is nothing to compare")
	}
	law := distuv.ChiSquared{K: 1}
	off := max(0, math.Abs(difference)-0.5)
	test := StratifiedTest{Statistic: difference * difference / variance, Corrected: off * off / variance}
	test.P, test.CorrectedP = law.Survival(test.Statistic), law.Survival(test.Corrected)
	test.OddsRatio, test.Odds = commonOdds(strata, confidence)
	return test, nil
}

func commonOdds(strata []Table2, confidence float64) (float64, stats.Interval) {
	var r, s, pr, mixed, qs float64
	for _, t := range strata {
		n := float64(t.total())
		ad, bc := float64(t[0][0])*float64(t[1][1])/n, float64(t[0][1])*float64(t[1][0])/n
		p, q := float64(t[0][0]+t[1][1])/n, float64(t[0][1]+t[1][0])/n
		r += ad
		s += bc
		pr += p * ad
		mixed += p*bc + q*ad
		qs += q * bc
	}
	half := numeric.TwoSided(confidence) * math.Sqrt(pr/(2*r*r)+mixed/(2*r*s)+qs/(2*s*s))
	odds := r / s
	if math.IsNaN(half) || math.IsInf(half, 0) {
		return odds, stats.Interval{Low: 0, High: math.Inf(1), Confidence: confidence}
	}
	return odds, stats.Interval{Low: odds * math.Exp(-half), High: odds * math.Exp(half), Confidence: confidence}
}

// ShareDifference is x1/n1 - x2/n2 with Newcombe's hybrid score interval
// (1998, method 10): the two [interval.Wilson] intervals joined. Errors as [Wilson].
func ShareDifference(x1, n1, x2, n2 int, confidence float64) (float64, stats.Interval, error) {
	a, err := interval.Wilson(x1, n1, confidence)
	if err != nil {
		return 0, stats.Interval{}, fmt.Errorf("first group: %w", err)
	}
	b, err := interval.Wilson(x2, n2, confidence)
	if err != nil {
		return 0, stats.Interval{}, fmt.Errorf("second group: %w", err)
	}
	p1, p2 := float64(x1)/float64(n1), float64(x2)/float64(n2)
	d := p1 - p2
	return d, stats.Interval{
		Low:        d - math.Hypot(p1-a.Low, b.High-p2),
		High:       d + math.Hypot(a.High-p1, p2-b.Low),
		Confidence: confidence,
	}, nil
}
