package compare

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/results/stats"
	"padjig/results/stats/numeric"
	"padjig/results/stats/reference"
)

type comparisonReference struct {
	Fisher []struct {
		Table      Table2
		P          reference.Number  `json:"p_two_sided"`
		Less       reference.Number  `json:"p_less"`
		Greater    reference.Number  `json:"p_greater"`
		Odds       *reference.Number `json:"sample_odds_ratio"`
		Chi2       *reference.Number `json:"chi2_pearson"`
		Chi2P      reference.Number  `json:"chi2_p"`
		Note       string
		Likelihood reference.Number `json:"p_table"`
	}
	Ranks []struct {
		Name      string
		X, Y      []float64
		U         float64 `json:"U1"`
		Ties      bool
		Exact     reference.Number `json:"exact_p_two-sided"`
		ExactLess reference.Number `json:"exact_p_less"`
		ExactMore reference.Number `json:"exact_p_greater"`
		Normal    reference.Number `json:"normal_cc_p_two-sided"`
		NormLess  reference.Number `json:"normal_cc_p_less"`
		NormMore  reference.Number `json:"normal_cc_p_greater"`
		Sigma     reference.Number `json:"sigma_U"`
		Shift     float64          `json:"hodges_lehmann_shift"`
	} `json:"mann_whitney"`
	Distributions []struct {
		Name    string
		X, Y    []float64
		D       reference.Number `json:"D_float"`
		Plus    reference.Number `json:"D_plus"`
		Minus   reference.Number `json:"D_minus"`
		P       reference.Number `json:"exact_p_two_sided"`
		Limit   reference.Number `json:"kolmogorov_limit_p"`
		Greater reference.Number `json:"exact_p_greater"`
		Less    reference.Number `json:"exact_p_less"`
	} `json:"kolmogorov_smirnov"`
	Strata []struct {
		Name    string
		Strata  []Table2
		M2, P   reference.Number
		M2CC    reference.Number `json:"M2_cc"`
		PCC     reference.Number `json:"p_cc"`
		OddsMH  reference.Number `json:"mh_odds_ratio"`
		Comment string           `json:"published"`
	} `json:"cochran_mantel_haenszel"`
}

func values(least int) *rapid.Generator[[]float64] {
	return rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), least, 60)
}

func readComparisons(t *testing.T) comparisonReference {
	var r comparisonReference
	reference.JSON(t, "tests/expected.json", &r)
	return r
}

// Source: R 4.2.2 and SciPy 1.10.1, to 15 digits; R's tea example is seen in
// print, one-sided 0.2429.
func TestFisherAndChiSquare(t *testing.T) {
	for _, r := range readComparisons(t).Fisher {
		got, err := Fisher(r.Table, 0.95)
		require.NoError(t, err)
		reference.Agrees(t, 12, float64(r.P), got.P, r.Table)
		reference.Agrees(t, 12, float64(r.Less), got.Less, r.Table)
		reference.Agrees(t, 12, float64(r.Greater), got.Greater, r.Table)
		law := r.Table.law()
		reference.Agrees(t, 12, float64(r.Likelihood), law.p[law.at(r.Table[0][0])], r.Table)
		if r.Odds != nil {
			reference.Agrees(t, 15, float64(*r.Odds), got.OddsRatio)
		}
		table := [][]int{r.Table[0][:], r.Table[1][:]}
		chi, err := ChiSquare(table)
		if r.Chi2 == nil {
			assert.ErrorContains(t, err, "column 1 of the table is empty")
			continue
		}
		require.NoError(t, err)
		reference.Agrees(t, 12, float64(*r.Chi2), chi.Statistic, r.Table)
		reference.Agrees(t, 11, float64(r.Chi2P), chi.P, r.Table)
	}
}

// What is left out of a law is lost in rounding: what is left has the law's own sums, and a table of millions the interval that
// its approximation has (Wald's of the logarithm of the odds ratio, good to a part in a thousand where counts are large).
func TestLawsOfMillions(t *testing.T) {
	table := Table2{{1_050, 48_950}, {200_000, 9_800_000}}
	law := table.law()
	assert.Less(t, len(law.p), 5_000)
	assert.InDelta(t, 1, numeric.Sum(law.p), 1e-14)
	assert.InDelta(t, float64(table.rowSum(0))*float64(table.colSum(0))/float64(table.total()), law.expected(), 1e-9)
	assert.InDelta(t, 1, law.upTo(1_049)+law.from(1_050), 1e-14)
	got, err := Fisher(table, 0.95)
	require.NoError(t, err)
	half := 1.959963984540054 * math.Sqrt(1/1_050.0+1/48_950.0+1/200_000.0+1/9_800_000.0)
	assert.InEpsilon(t, got.OddsRatio*math.Exp(-half), got.Odds.Low, 2e-3)
	assert.InEpsilon(t, got.OddsRatio*math.Exp(half), got.Odds.High, 2e-3)
	assert.InEpsilon(t, got.OddsRatio, got.Conditional, 1e-4)
	far, err := Fisher(Table2{{40_000, 10_000}, {161_050, 9_838_950}}, 0.95) // beyond what is left of the law
	require.NoError(t, err)
	assert.Zero(t, far.Greater)
	assert.Equal(t, 1.0, far.Less)
	assert.Zero(t, far.P)
	assert.Greater(t, far.Odds.Low, 200.0)
}

// The interval's ends and the conditional ratio, by what defines them: at the
// ends the table seen is just as extreme as half the risk allows, and the
// ratio makes it the expected one.
func TestFisherOddsAreWhatTheyClaim(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 60)
		table := Table2{{n.Draw(t, "a"), n.Draw(t, "b")}, {n.Draw(t, "c"), n.Draw(t, "d")}}
		got, err := Fisher(table, 0.95)
		if err != nil {
			assert.ErrorIs(t, err, stats.ErrEmpty)
			return
		}
		if got.Odds.Low > 0 {
			assert.InDelta(t, 0.025, table.under(got.Odds.Low, numeric.Underflow).from(table[0][0]), 1e-9)
		}
		if !math.IsInf(got.Odds.High, 1) {
			assert.InDelta(t, 0.025, table.under(got.Odds.High, numeric.Underflow).upTo(table[0][0]), 1e-9)
		}
		if !math.IsNaN(got.Conditional) {
			assert.True(t, got.Odds.Contains(got.Conditional), "%v in %v", got.Conditional, got.Odds)
		}
		mirror, err := Fisher(Table2{table[1], table[0]}, 0.95)
		require.NoError(t, err)
		assert.InDelta(t, got.P, mirror.P, 1e-12)
		assert.InDelta(t, got.Less, mirror.Greater, 1e-12)
	})
}

// Source: R 4.2.2 on its own and made-up data.
func TestMannWhitney(t *testing.T) {
	for _, r := range readComparisons(t).Ranks {
		t.Run(r.Name, func(t *testing.T) {
			got, err := MannWhitney(r.X, r.Y, 0.95)
			require.NoError(t, err)
			assert.Equal(t, r.U, got.U)
			assert.Equal(t, !r.Ties, got.Exact)
			reference.Agrees(t, 13, r.Shift, got.Shift)
			want := [3]reference.Number{r.Exact, r.ExactLess, r.ExactMore}
			if r.Ties {
				want = [3]reference.Number{r.Normal, r.NormLess, r.NormMore}
			}
			reference.Agrees(t, 11, float64(want[0]), got.P)
			reference.Agrees(t, 11, float64(want[1]), got.Less)
			reference.Agrees(t, 11, float64(want[2]), got.Greater)

			// The approximation is there for large samples; check it here too.
			approximate := RankTest{N1: got.N1, N2: got.N2, U: got.U}
			_, ties := ranked(slices.Concat(r.X, r.Y))
			sd := rankSD(float64(got.N1), float64(got.N2), ties)
			reference.Agrees(t, 13, float64(r.Sigma), sd)
			approximate.normal(sd)
			reference.Agrees(t, 11, float64(r.Normal), approximate.P)
			assert.True(t, got.Shifts.Contains(got.Shift))
		})
	}
}

// The shift's interval by what defines it: 95 of 100 hold the true shift, for
// two groups of 8 whose exact interval covers at least that.
func TestHodgesLehmannCovers(t *testing.T) {
	source := rand.New(rand.NewPCG(31, 0))
	held := 0
	const samples = 1500
	for range samples {
		x, y := make([]float64, 8), make([]float64, 8)
		for i := range x {
			x[i], y[i] = source.ExpFloat64()+0.7, source.ExpFloat64()
		}
		got, err := MannWhitney(x, y, 0.95)
		require.NoError(t, err)
		if got.Shifts.Contains(0.7) {
			held++
		}
	}
	assert.GreaterOrEqual(t, float64(held)/samples, 0.95-0.012)
	assert.LessOrEqual(t, float64(held)/samples, 0.98)
}

// The walk that finds the k-th difference, against sorting all of them.
func TestDifferencesAreThoseOfAllPairs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.Map(rapid.IntRange(-20, 20), func(i int) float64 { return float64(i) / 7 })
		x := rapid.SliceOfN(value, 1, 12).Draw(t, "x")
		y := rapid.SliceOfN(value, 1, 12).Draw(t, "y")
		var all []float64
		for _, a := range x {
			for _, b := range y {
				all = append(all, a-b)
			}
		}
		slices.Sort(all)
		d := newDifferences(x, y)
		for k := range all {
			assert.Equal(t, all[k], d.smallest(k+1))
		}
	})
}

func TestMannWhitneyShiftsWithItsData(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := values(2).Draw(t, "x")
		y := values(2).Draw(t, "y")
		a, err := MannWhitney(x, y, 0.9)
		require.NoError(t, err)
		b, err := MannWhitney(y, x, 0.9)
		require.NoError(t, err)
		assert.InDelta(t, a.P, b.P, 1e-12)
		assert.InDelta(t, a.Shift, -b.Shift, 1e-6)
		assert.InDelta(t, 1, a.Larger+b.Larger, 1e-12)
	})
}

// Source: SciPy 1.10.1 and R 4.2.2.
func TestKolmogorovSmirnov(t *testing.T) {
	for _, r := range readComparisons(t).Distributions {
		got, err := KolmogorovSmirnov(r.X, r.Y)
		require.NoError(t, err)
		assert.True(t, got.Exact)
		reference.Agrees(t, 14, float64(r.D), got.D, r.Name)
		reference.Agrees(t, 14, float64(r.Plus), got.Plus, r.Name)
		reference.Agrees(t, 14, float64(r.Minus), got.Minus, r.Name)
		reference.Agrees(t, 12, float64(r.P), got.P, r.Name)
		reference.Agrees(t, 12, float64(r.Greater), got.PlusP, r.Name)
		reference.Agrees(t, 12, float64(r.Less), got.MinusP, r.Name)
		m, n := float64(len(r.X)), float64(len(r.Y))
		got.limits(math.Sqrt(m * n / (m + n)))
		reference.Agrees(t, 12, float64(r.Limit), got.P, r.Name)
	}
}

// Source: R 4.2.2; the rabbits' p with correction, 0.047, seen in print.
func TestCochranMantelHaenszel(t *testing.T) {
	for _, r := range readComparisons(t).Strata {
		got, err := CochranMantelHaenszel(r.Strata, 0.95)
		require.NoError(t, err)
		reference.Agrees(t, 12, float64(r.M2), got.Statistic, r.Name)
		reference.Agrees(t, 11, float64(r.P), got.P, r.Name)
		reference.Agrees(t, 12, float64(r.M2CC), got.Corrected, r.Name)
		reference.Agrees(t, 11, float64(r.PCC), got.CorrectedP, r.Name)
		reference.Agrees(t, 13, float64(r.OddsMH), got.OddsRatio, r.Name)
		assert.True(t, got.Odds.Contains(got.OddsRatio))
	}
	_, err := CochranMantelHaenszel([]Table2{{{0, 5}, {0, 7}}}, 0.95)
	assert.ErrorContains(t, err, "nothing to compare")
}

// With one stratum the interval is that of the log odds ratio,
// exp(+- z sqrt(1/a + 1/b + 1/c + 1/d)) (Woolf 1955), to which the formula of
// Robins, Breslow and Greenland then reduces.
func TestCommonOddsOfOneStratum(t *testing.T) {
	got, err := CochranMantelHaenszel([]Table2{{{12, 40}, {5, 60}}}, 0.95)
	require.NoError(t, err)
	half := 1.959963984540054 * math.Sqrt(1./12+1./40+1./5+1./60)
	reference.Agrees(t, 13, 3.6, got.OddsRatio)
	reference.Agrees(t, 12, 3.6*math.Exp(half), got.Odds.High)
}

// Source: Newcombe 1998, statistics in medicine 17:873, method 10, from
// memory: 56/70 against 48/80 gives 0.0524 to 0.3339. Beside it the interval
// is held by its coverage, which needs no memory.
func TestShareDifference(t *testing.T) {
	d, i, err := ShareDifference(56, 70, 48, 80, 0.95)
	require.NoError(t, err)
	reference.Agrees(t, 13, 0.2, d)
	reference.Printed(t, 4, 0, 0.0524, i.Low)
	reference.Printed(t, 4, 0, 0.3339, i.High)

	const n1, n2 = 30, 45
	for _, p := range [][2]float64{{0.1, 0.1}, {0.9, 0.7}, {0.5, 0.3}} {
		covered := 0.0
		a, b := numeric.BinomialLaw(n1, p[0]), numeric.BinomialLaw(n2, p[1])
		for x := range a {
			for y := range b {
				_, i, err := ShareDifference(x, n1, y, n2, 0.95)
				require.NoError(t, err)
				if i.Contains(p[0] - p[1]) {
					covered += a[x] * b[y]
				}
			}
		}
		assert.InDelta(t, 0.955, covered, 0.015, "shares %v", p)
	}
}

// Worked by hand from the definitions: Holm multiplies by what is left,
// Benjamini and Hochberg by n over the rank.
func TestManyTests(t *testing.T) {
	p := []float64{0.01, 0.04, 0.03, 0.005}
	for i, want := range []float64{0.03, 0.06, 0.06, 0.02} {
		reference.Agrees(t, 14, want, Holm(p)[i])
	}
	for i, want := range []float64{0.02, 0.04, 0.04, 0.02} {
		reference.Agrees(t, 14, want, BenjaminiHochberg(p)[i])
	}
	withNaN := Holm([]float64{0.01, math.NaN(), 0.02})
	reference.Agrees(t, 14, 0.02, withNaN[0])
	assert.True(t, math.IsNaN(withNaN[1]))
	assert.Empty(t, Holm(nil))
}

func TestAdjustedNeverBelowAndInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Float64Range(0, 1), 1, 30).Draw(t, "p")
		holm, bh := Holm(p), BenjaminiHochberg(p)
		for i := range p {
			assert.True(t, p[i] <= bh[i] && bh[i] <= holm[i] && holm[i] <= 1, "%v %v %v", p[i], bh[i], holm[i])
			for j := range p {
				if p[i] < p[j] {
					assert.LessOrEqual(t, holm[i], holm[j])
					assert.LessOrEqual(t, bh[i], bh[j])
				}
			}
		}
	})
}

func TestComparisonsThatHaveNoAnswer(t *testing.T) {
	two := func(x, y []float64) map[string]error {
		_, mw := MannWhitney(x, y, 0.95)
		_, ks := KolmogorovSmirnov(x, y)
		return map[string]error{"mann-whitney": mw, "ks": ks}
	}
	for name, err := range two(nil, []float64{1, 2}) {
		assert.EqualError(t, err, "group 1: "+stats.ErrEmpty.Error(), name)
	}
	for name, err := range two([]float64{1, math.Inf(1)}, []float64{1, 2}) {
		assert.ErrorContains(t, err, "value 2 of the list is +Inf", name)
	}
	equal := two([]float64{3, 3}, []float64{3, 3})
	assert.NoError(t, equal["mann-whitney"], "ranks of equal values: p is 1")

	_, err := Fisher(Table2{}, 0.95)
	assert.ErrorIs(t, err, stats.ErrEmpty)
	_, err = Fisher(Table2{{-1, 2}, {3, 4}}, 0.95)
	assert.ErrorContains(t, err, "-1")
	_, err = ChiSquare([][]int{{1, 2}, {3}})
	assert.ErrorIs(t, err, stats.ErrUnequal)
	_, _, err = ShareDifference(1, 2, 0, 0, 0.95)
	assert.ErrorContains(t, err, "second group: ")
	assert.Contains(t, fmt.Sprint(err), stats.ErrEmpty.Error())
}
