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
		Yates      reference.Number  `json:"chi2_yates"`
		YatesP     reference.Number  `json:"chi2_yates_p"`
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
	Means []struct {
		Name    string
		TPooled reference.Number `json:"t_pooled"`
		PPooled reference.Number `json:"p_pooled"`
		TWelch  reference.Number `json:"t_welch"`
		DFWelch reference.Number `json:"df_welch"`
		PWelch  reference.Number `json:"p_welch"`
		F       reference.Number `json:"F_var_ratio"`
		FP      reference.Number `json:"F_p_two_sided"`
		BF      reference.Number `json:"brown_forsythe_W"`
		BFP     reference.Number `json:"brown_forsythe_p"`
	} `json:"two_sample_t_and_variance"`
	Groups struct {
		Gear struct {
			F  reference.Number `json:"anova_F"`
			P  reference.Number `json:"anova_p"`
			B  reference.Number `json:"bartlett_T"`
			BP reference.Number `json:"bartlett_p"`
			W  reference.Number `json:"brown_forsythe_W"`
			WP reference.Number `json:"brown_forsythe_p"`
			H  reference.Number `json:"kruskal_H"`
			HP reference.Number `json:"kruskal_p"`
		}
		Kruskal struct {
			Groups [][]float64
			H, P   reference.Number
		} `json:"hollander_wolfe_kruskal"`
	} `json:"k_sample"`
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
		low, p := r.Table.law(1)
		reference.Agrees(t, 12, float64(r.Likelihood), p[r.Table[0][0]-low], r.Table)
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
		yates, err := ChiSquareYates(r.Table)
		require.NoError(t, err)
		reference.Agrees(t, 12, float64(r.Yates), yates.Statistic, r.Table)
		reference.Agrees(t, 11, float64(r.YatesP), yates.P, r.Table)
	}
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
		low, p := table.law(got.Odds.Low)
		at := table[0][0] - low
		if got.Odds.Low > 0 {
			assert.InDelta(t, 0.025, numeric.Sum(p[at:]), 1e-9)
		}
		if !math.IsInf(got.Odds.High, 1) {
			_, p = table.law(got.Odds.High)
			assert.InDelta(t, 0.025, numeric.Sum(p[:at+1]), 1e-9)
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

// Source: R 4.2.2 and SciPy; NIST AUTO83B and GEAR data.
func TestMeansAndVariances(t *testing.T) {
	want := readComparisons(t)
	ranks := want.Ranks
	cars := reference.ByGroup(t, reference.Table(t, "tests/auto83b_mpg.csv"), "group", "mpg")
	sleep := [][]float64{{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0}, {1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}}
	pairs := [][][]float64{cars, sleep, {ranks[2].X, ranks[2].Y}}
	require.Len(t, want.Means, len(pairs))
	for i, r := range want.Means {
		x, y := pairs[i][0], pairs[i][1]
		pooled, err := PooledT(x, y, 0.95)
		require.NoError(t, err)
		reference.Agrees(t, 12, float64(r.TPooled), pooled.T, r.Name)
		reference.Agrees(t, 10, float64(r.PPooled), pooled.P, r.Name)
		welch, err := WelchT(x, y, 0.95)
		require.NoError(t, err)
		reference.Agrees(t, 12, float64(r.TWelch), welch.T, r.Name)
		reference.Agrees(t, 12, float64(r.DFWelch), welch.DF, r.Name)
		reference.Agrees(t, 10, float64(r.PWelch), welch.P, r.Name)
		f, err := VarianceRatio(x, y)
		require.NoError(t, err)
		reference.Agrees(t, 12, float64(r.F), f.F, r.Name)
		reference.Agrees(t, 11, float64(r.FP), f.P, r.Name)
		bf, err := BrownForsythe(pairs[i])
		require.NoError(t, err)
		reference.Agrees(t, 11, float64(r.BF), bf.F, r.Name)
		reference.Agrees(t, 11, float64(r.BFP), bf.P, r.Name)
	}
}

// Source: e-Handbook 1.3.5 data GEAR; R and SciPy to 15 digits.
func TestSeveralGroups(t *testing.T) {
	want := readComparisons(t).Groups
	gear := reference.ByGroup(t, reference.Table(t, "tests/gear.csv"), "batch", "diameter")
	f, err := OneWay(gear)
	require.NoError(t, err)
	reference.Agrees(t, 11, float64(want.Gear.F), f.F)
	reference.Agrees(t, 11, float64(want.Gear.P), f.P)
	b, err := Bartlett(gear)
	require.NoError(t, err)
	reference.Agrees(t, 11, float64(want.Gear.B), b.Statistic)
	reference.Agrees(t, 11, float64(want.Gear.BP), b.P)
	w, err := BrownForsythe(gear)
	require.NoError(t, err)
	reference.Agrees(t, 10, float64(want.Gear.W), w.F, "distances from medians of thousandths")
	reference.Agrees(t, 10, float64(want.Gear.WP), w.P)
	h, err := KruskalWallis(gear)
	require.NoError(t, err)
	reference.Agrees(t, 12, float64(want.Gear.H), h.Statistic)
	reference.Agrees(t, 11, float64(want.Gear.HP), h.P)
	h, err = KruskalWallis(want.Kruskal.Groups)
	require.NoError(t, err)
	reference.Agrees(t, 12, float64(want.Kruskal.H), h.Statistic)
	reference.Agrees(t, 12, float64(want.Kruskal.P), h.P)
}

// Source: NIST StRD analysis of variance, certified values (seen); five sets
// with data.
func TestOneWayNISTCertified(t *testing.T) {
	held := 0
	for _, r := range reference.Table(t, "nist_strd_anova/certified.csv") {
		if !slices.Contains([]string{"SiRstv", "SmLs01", "AtmWtAg", "SmLs04", "SmLs07"}, r["dataset"]) {
			continue
		}
		held++
		t.Run(r["dataset"], func(t *testing.T) {
			got, err := OneWay(reference.ByGroup(t, reference.Table(t, "nist_strd_anova/"+r["dataset"]+".csv"), "treatment", "response"))
			require.NoError(t, err)
			assert.Equal(t, r.Whole(t, "certified_df_between"), got.DFBetween)
			assert.Equal(t, r.Whole(t, "certified_df_within"), got.DFWith)
			reference.Agrees(t, 12.5, r.Num(t, "float64_inputs_F"), got.F, "what a perfect program returns")
			limit := r.Num(t, "lre_limit_F_float64_inputs")
			reference.Agrees(t, min(12.5, limit-1), r.Num(t, "certified_F"), got.F, "certified F")
			reference.Agrees(t, min(12.5, limit-1), r.Num(t, "certified_ss_between"), got.Between, "between")
			reference.Agrees(t, min(12.5, limit-1), r.Num(t, "certified_ss_within"), got.Within, "within")
			reference.Agrees(t, min(12.5, limit-1), r.Num(t, "certified_r_squared"), got.RSquared, "R squared")
			reference.Agrees(t, min(12.5, limit-1), r.Num(t, "certified_residual_sd"), got.ResidualSD(), "residual sd")
		})
	}
	assert.Equal(t, 5, held)
}

// Source: the same, certified values (seen). The data of the larger sets go on
// as those of the smallest do: after its first value, a treatment's values
// alternate between two; 1e6 and 1e12 are added in the harder ones.
func TestOneWayNISTLargerSets(t *testing.T) {
	patterns := map[string]string{"SmLs02": "SmLs01", "SmLs03": "SmLs01", "SmLs05": "SmLs04", "SmLs06": "SmLs04", "SmLs08": "SmLs07", "SmLs09": "SmLs07"}
	for _, r := range reference.Table(t, "nist_strd_anova/certified.csv") {
		pattern, larger := patterns[r["dataset"]]
		if !larger {
			continue
		}
		groups := reference.ByGroup(t, reference.Table(t, "nist_strd_anova/"+pattern+".csv"), "treatment", "response")
		for i, g := range groups {
			for len(groups[i]) < r.Whole(t, "n")/r.Whole(t, "groups") {
				groups[i] = append(groups[i], g[len(g)-2+(len(groups[i])+1)%2])
			}
		}
		got, err := OneWay(groups)
		require.NoError(t, err)
		reference.Agrees(t, 11, r.Num(t, "float64_inputs_F"), got.F, r["dataset"])
		reference.Agrees(t, min(12, r.Num(t, "lre_limit_F_float64_inputs")-1), r.Num(t, "certified_F"), got.F, r["dataset"])
		delete(patterns, r["dataset"])
	}
	assert.Empty(t, patterns)
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
		_, welch := WelchT(x, y, 0.95)
		_, pooled := PooledT(x, y, 0.95)
		return map[string]error{"mann-whitney": mw, "ks": ks, "welch": welch, "pooled": pooled}
	}
	for name, err := range two(nil, []float64{1, 2}) {
		assert.EqualError(t, err, "group 1: "+stats.ErrEmpty.Error(), name)
	}
	for name, err := range two([]float64{1, math.Inf(1)}, []float64{1, 2}) {
		assert.ErrorContains(t, err, "value 2 of the list is +Inf", name)
	}
	equal := two([]float64{3, 3}, []float64{3, 3})
	assert.NoError(t, equal["mann-whitney"], "ranks of equal values: p is 1")
	assert.ErrorIs(t, equal["welch"], stats.ErrNoSpread)

	_, err := OneWay([][]float64{{1}, {2}})
	assert.EqualError(t, err, "2 values where at least 3 are needed")
	_, err = OneWay([][]float64{{1, 1}, {2, 2}})
	assert.ErrorIs(t, err, stats.ErrNoSpread)
	_, err = OneWay([][]float64{{1, 2}})
	assert.EqualError(t, err, "1 group where at least 2 are needed")
	_, err = Bartlett([][]float64{{1, 1}, {2, 3}})
	assert.ErrorIs(t, err, stats.ErrNoSpread)
	_, err = KruskalWallis([][]float64{{2, 2}, {2, 2}})
	assert.ErrorIs(t, err, stats.ErrNoSpread)
	_, err = Fisher(Table2{}, 0.95)
	assert.ErrorIs(t, err, stats.ErrEmpty)
	_, err = Fisher(Table2{{-1, 2}, {3, 4}}, 0.95)
	assert.ErrorContains(t, err, "-1")
	_, err = ChiSquare([][]int{{1, 2}, {3}})
	assert.ErrorIs(t, err, stats.ErrUnequal)
	_, _, err = ShareDifference(1, 2, 0, 0, 0.95)
	assert.ErrorContains(t, err, "second group: ")
	assert.Contains(t, fmt.Sprint(err), stats.ErrEmpty.Error())
}
