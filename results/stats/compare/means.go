package compare

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
)

// TTest is a comparison of two means.
type TTest struct {
	T, DF      float64
	P          float64 // two-sided
	Difference float64 // first mean minus second, in the unit of the data
	Interval   stats.Interval
}

// WelchT compares two means without assuming equal variances (Welch 1947,
// degrees of freedom after Satterthwaite). It is the one to take. Errors:
// fewer than two values in a group, not finite, both without spread.
func WelchT(x, y []float64, confidence float64) (TTest, error) {
	if err := checkPair(x, y, confidence); err != nil {
		return TTest{}, err
	}
	m, n := float64(len(x)), float64(len(y))
	a, b := numeric.Variance(x)/m, numeric.Variance(y)/n
	df := (a + b) * (a + b) / (a*a/(m-1) + b*b/(n-1))
	return newTTest(x, y, math.Sqrt(a+b), df, confidence)
}

// PooledT is Student's comparison, which assumes one variance for both.
func PooledT(x, y []float64, confidence float64) (TTest, error) {
	if err := checkPair(x, y, confidence); err != nil {
		return TTest{}, err
	}
	m, n := float64(len(x)), float64(len(y))
	pooled := (numeric.SumOfSquares(x) + numeric.SumOfSquares(y)) / (m + n - 2)
	return newTTest(x, y, math.Sqrt(pooled*(1/m+1/n)), m+n-2, confidence)
}

func checkPair(x, y []float64, confidence float64) error {
	if err := stats.UsableGroups([][]float64{x, y}, 2, 2); err != nil {
		return err
	}
	return stats.CheckConfidence(confidence)
}

func newTTest(x, y []float64, se, df, confidence float64) (TTest, error) {
	if se == 0 {
		return TTest{}, stats.ErrNoSpread
	}
	d := numeric.Mean(x) - numeric.Mean(y)
	return TTest{
		T: d / se, DF: df, Difference: d,
		P:        2 * distuv.StudentsT{Sigma: 1, Nu: df}.Survival(math.Abs(d/se)),
		Interval: stats.Around(d, numeric.TQuantile(confidence, df)*se, confidence),
	}, nil
}

// FTest is a comparison of variances, between groups against within.
type FTest struct {
	F                 float64
	Between, Within   float64 // sums of squares
	DFBetween, DFWith int
	P                 float64
	RSquared          float64 // share of the sum of squares that lies between
}

// ResidualSD is the pooled standard deviation within groups.
func (t FTest) ResidualSD() float64 { return math.Sqrt(t.Within / float64(t.DFWith)) }

// OneWay is the analysis of variance of groups (Fisher 1925). All values are
// taken from their common mean first, which loses nothing, so that groups far
// from zero keep their digits. Errors: fewer than two groups, an empty one,
// no group of two values, not finite, no spread within groups.
func OneWay(groups [][]float64) (FTest, error) {
	if err := stats.UsableGroups(groups, 2, 1); err != nil {
		return FTest{}, err
	}
	all := slices.Concat(groups...)
	hi, lo := numeric.Center(all)
	t := FTest{DFBetween: len(groups) - 1, DFWith: len(all) - len(groups)}
	between, within := make([]float64, len(groups)), make([]float64, len(groups))
	for i, g := range groups {
		d := numeric.Deviations(g, hi, lo)
		m := numeric.Mean(d)
		between[i] = float64(len(g)) * m * m
		within[i] = numeric.SumOfSquares(d)
	}
	t.Between, t.Within = numeric.Sum(between), numeric.Sum(within)
	if t.DFWith == 0 {
		return FTest{}, &stats.TooFewError{Have: len(all), Need: len(groups) + 1, What: "values"}
	}
	if t.Within == 0 {
		return FTest{}, stats.ErrNoSpread
	}
	t.F = t.Between / float64(t.DFBetween) / (t.Within / float64(t.DFWith))
	t.P = numeric.FSurvival(t.F, float64(t.DFBetween), float64(t.DFWith))
	t.RSquared = t.Between / (t.Between + t.Within)
	return t, nil
}

// VarianceRatio is the F test of two variances, for normal data only.
// Errors: fewer than two values in a group, not finite, no spread in the second.
func VarianceRatio(x, y []float64) (FTest, error) {
	if err := stats.UsableGroups([][]float64{x, y}, 2, 2); err != nil {
		return FTest{}, err
	}
	a, b := numeric.Variance(x), numeric.Variance(y)
	if b == 0 {
		return FTest{}, stats.ErrNoSpread
	}
	t := FTest{F: a / b, DFBetween: len(x) - 1, DFWith: len(y) - 1}
	above := numeric.FSurvival(t.F, float64(t.DFBetween), float64(t.DFWith))
	below := numeric.FSurvival(1/t.F, float64(t.DFWith), float64(t.DFBetween))
	t.P = min(1, 2*min(above, below))
	return t, nil
}

// BrownForsythe tests whether groups spread alike: [OneWay] of the distances
// from each group's median (Brown and Forsythe 1974). It does not mind
// distributions that are not normal. Errors as [OneWay].
func BrownForsythe(groups [][]float64) (FTest, error) {
	if err := stats.UsableGroups(groups, 2, 1); err != nil {
		return FTest{}, err
	}
	distances := make([][]float64, len(groups))
	for i, g := range groups {
		m := stats.Median(g)
		distances[i] = make([]float64, len(g))
		for j, v := range g {
			distances[i][j] = math.Abs(v - m)
		}
	}
	return OneWay(distances)
}

// Bartlett tests whether groups have one variance (Bartlett 1937), sharper
// than [BrownForsythe] for normal data and misled by other. Errors: fewer than
// two groups, one of fewer than two values or without spread, not finite.
func Bartlett(groups [][]float64) (ChiSquareTest, error) {
	if err := stats.UsableGroups(groups, 2, 2); err != nil {
		return ChiSquareTest{}, err
	}
	k := float64(len(groups))
	var df, ss, logs, inverse float64
	for _, g := range groups {
		n := float64(len(g) - 1)
		v := numeric.Variance(g)
		if v == 0 {
			return ChiSquareTest{}, stats.ErrNoSpread
		}
		df += n
		ss += n * v
		logs += n * math.Log(v)
		inverse += 1 / n
	}
	t := ChiSquareTest{DF: len(groups) - 1}
	t.Statistic = (df*math.Log(ss/df) - logs) / (1 + (inverse-1/df)/(3*(k-1)))
	t.P = distuv.ChiSquared{K: k - 1}.Survival(t.Statistic)
	return t, nil
}
