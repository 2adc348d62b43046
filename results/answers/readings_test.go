package answers

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers/answerstest"
	"padjig/results/hourly"
	"padjig/results/lines"
	"padjig/results/stats"
	"padjig/results/stats/capability"
	"padjig/results/stats/compare"
	"padjig/results/stats/interval"
)

func TestKeysAreChosen(t *testing.T) {
	pad := []lines.PadKey{{Label: "1", Lines: []string{"R1", "C1"}}, {Label: "2", Lines: []string{"R1", "C2"}},
		{Label: "4", Group: "vents", Lines: []string{"R2", "C2"}}}
	for name, c := range map[string]struct {
		choice KeyChoice
		want   []string
	}{
		"all":                 {KeyChoice{}, nil},
		"by label":            {KeyChoice{Labels: []string{"2"}}, []string{"2"}},
		"on a line":           {KeyChoice{Line: "R1"}, []string{"1", "2"}},
		"in a group":          {KeyChoice{Group: "vents"}, []string{"4"}},
		"on a line or by one": {KeyChoice{Labels: []string{"4"}, Line: "C1"}, []string{"4", "1"}},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := c.choice.In(pad)
			require.NoError(t, err)
			assert.Equal(t, c.want, got)
		})
	}
	_, err := KeyChoice{Line: "R9"}.In(pad)
	none := new(NoKeyError)
	require.ErrorAs(t, err, &none)
	assert.Equal(t, `no key on line "R9" or in group "": the lines are R1 C1 C2 R2, the groups vents`, err.Error())
	_, err = KeyChoice{Group: "heat"}.In(nil)
	assert.ErrorContains(t, err, "the lines are none, the groups none")
}

func TestKeysThatAreNotThere(t *testing.T) {
	s := units(t, "pp")
	missing, none := new(lines.MissingKeysError), new(NoKeyError)
	for _, choice := range []KeyChoice{{Labels: []string{"99"}}, {Line: "R9"}} {
		for name, ask := range map[string]func() error{
			"capability": func() error {
				_, err := AskCapability(t.Context(), s, CapabilityAsked{Selection: all, Keys: choice})
				return err
			},
			"limits": func() error {
				_, err := AskLimits(t.Context(), s, LimitsAsked{Selection: all, Keys: choice})
				return err
			},
			"distributions": func() error {
				_, err := AskDistributions(t.Context(), s, DistributionsAsked{Selection: all, Keys: choice})
				return err
			},
			"compare": func() error {
				_, err := AskCompare(t.Context(), s, CompareAsked{Selection: all, By: lines.ByJig, A: answerstest.OtherJig,
					B: answerstest.OtherJig, Keys: choice})
				return err
			},
		} {
			t.Run(name, func(t *testing.T) {
				if choice.Line == "" {
					assert.ErrorAs(t, ask(), &missing)
				} else {
					assert.ErrorAs(t, ask(), &none)
				}
			})
		}
	}
}

func TestDistributionsOfADay(t *testing.T) {
	line := answerstest.Day(t)
	d, err := AskDistributions(t.Context(), line.Store, DistributionsAsked{Selection: all})
	require.NoError(t, err)
	require.Len(t, d.Rows, 4)
	first := line.First(nil)
	for i, row := range d.Rows {
		read := answerstest.Contact(first, i)
		summary, err := stats.Summarize(read)
		require.NoError(t, err)
		assert.Equal(t, len(read), row.N)
		assert.Equal(t, len(first)-len(read), row.Over)
		assert.InDelta(t, summary.Mean, row.Mean.Value, 1e-9)
		assert.InDelta(t, summary.SD, row.SD, 1e-9)
		mean := stats.MeanIntervalOf(summary.Mean, summary.SD, len(read), 0.95)
		assert.InDelta(t, mean.Low, row.Mean.Low, 1e-9)
		assert.InDelta(t, mean.High, row.Mean.High, 1e-9)
		assert.InDelta(t, slices.Min(read), row.Quantiles.Least, 1e-9)
		assert.InDelta(t, slices.Max(read), row.Quantiles.Most, 1e-9)
		for share, q := range map[float64]float64{0.05: row.Quantiles.P5, 0.25: row.Quantiles.P25, 0.5: row.Quantiles.Median,
			0.75: row.Quantiles.P75, 0.95: row.Quantiles.P95} {
			below := 0
			for _, v := range read {
				if v <= q {
					below++
				}
			}
			assert.InDelta(t, share, float64(below)/float64(len(read)), 0.05, "key %s, %g", row.Name, share)
		}
		counted := 0
		for _, bin := range row.Bins {
			counted += int(bin.Count)
			in := 0
			for _, v := range read {
				if v >= bin.From-1e-9 && v < bin.To-1e-9 {
					in++
				}
			}
			assert.EqualValues(t, in, bin.Count, "key %s from %g to %g", row.Name, bin.From, bin.To)
		}
		assert.Equal(t, len(read), counted)
		assert.LessOrEqual(t, len(row.Bins), 40)
		fine := 0 // bins of the store
		for from, _ := hourly.BinEdges(fine); from < row.Bins[0].From-1e-9; from, _ = hourly.BinEdges(fine) {
			fine++
		}
		_, to := hourly.BinEdges(fine + 3)
		assert.InDelta(t, to, row.Bins[0].To, 1e-9, "four are one below 400 readings")
		assert.InDelta(t, 0.5*2*answerstest.U, row.Guard, 1e-9, "half an expanded uncertainty")
		assert.Equal(t, answerstest.Keys[i].Limits, row.Limits)
	}
	assert.Equal(t, []Sentence{Say("distributions.words"), Warn("charts.over", 12)}, d.Conclusions)

	d, err = AskDistributions(t.Context(), units(t, "p"), DistributionsAsked{Selection: all, Keys: KeyChoice{Labels: []string{"2"}}})
	require.NoError(t, err)
	require.Len(t, d.Rows, 1)
	row := d.Rows[0]
	assert.Equal(t, [3]any{"2", 1, 70.0}, [3]any{row.Name, row.N, row.Mean.Value})
	assert.True(t, math.IsNaN(row.SD) && math.IsNaN(row.Mean.Low), "one reading has no spread")
	assert.Equal(t, Quantiles{70, 70, 70, 70, 70, 70, 70}, row.Quantiles)
	assert.Equal(t, []string{"distributions.words"}, codesOf(d.Conclusions))
}

// Nothing was read: there is no quantile, and no guard band.
func TestDistributionOfNoReading(t *testing.T) {
	d := all.distribution("7", hourly.Histogram{Beyond: 3}, [2]float64{})
	assert.Equal(t, [2]int{0, 3}, [2]int{d.N, d.Over})
	for _, v := range []float64{d.Mean.Value, d.SD, d.Quantiles.Median, d.Quantiles.Least, d.Nearly[1]} {
		assert.True(t, math.IsNaN(v))
	}
	assert.Empty(t, d.Bins)
	s := units(t, "oo")
	a, err := AskDistributions(t.Context(), s, DistributionsAsked{Selection: all, Keys: KeyChoice{Labels: []string{"3"}}})
	require.NoError(t, err)
	assert.Equal(t, [3]any{0, 2, 0.0}, [3]any{a.Rows[0].N, a.Rows[0].Over, a.Rows[0].Guard})
}

// The rows against the indices of package capability over the readings of the runs.
func TestCapabilityOfADay(t *testing.T) {
	line := answerstest.Day(t)
	c, err := AskCapability(t.Context(), line.Store, CapabilityAsked{Selection: all})
	require.NoError(t, err)
	require.Len(t, c.Rows, 4)
	assert.ErrorIs(t, c.Rows[2].Why, ErrNoLimits)
	assert.True(t, math.IsNaN(c.Rows[2].Ppk.Value))
	first := line.First(nil)
	for _, i := range []int{1, 3} {
		read, k := answerstest.Contact(first, i), c.Rows[i]
		require.NoError(t, k.Why)
		spec := SpecOf(answerstest.Keys[i].Limits)
		within, err := capability.WithinSubgroups(inSubgroups(read))
		require.NoError(t, err)
		want, err := capability.New(read, within, spec)
		require.NoError(t, err)
		assert.Equal(t, [2]int{len(read), want.ObservedOut}, [2]int{k.N, k.Outside})
		for _, pair := range [][2]float64{{want.Mean, k.Mean}, {want.Overall.Value, k.SD}, {within.Value, k.Within},
			{want.C.PK, k.Cpk.Value}, {want.P.PK, k.Ppk.Value}, {want.ExpectedPPM, k.ExpectedPPM}} {
			assert.InDelta(t, pair[0], pair[1], 1e-9*(1+math.Abs(pair[0])), "key %s", k.Key)
		}
		pk := capability.CpkInterval(want.P.PK, len(read), want.Overall.DF, 0.95)
		assert.InDelta(t, pk.Low, k.Ppk.Low, 1e-9)
		assert.Equal(t, ByNormal, k.Method)
		assert.Len(t, k.Plot(), len(read))
		assert.LessOrEqual(t, len(k.Histogram(7).Counts), 7)
	}
	// Six readings of 250 among 234 near 60 are not normal.
	assert.Equal(t, [2]any{NoMethod, 6}, [2]any{c.Rows[0].Method, c.Rows[0].Outside})
	assert.True(t, math.IsNaN(c.Rows[0].Pp.Low) && math.IsNaN(c.Rows[0].ExpectedPPM))

	worst := c.Rows[1]
	for _, k := range c.Rows {
		if k.Ppk.Value < worst.Ppk.Value {
			worst = k
		}
	}
	assert.Equal(t, Say("capability.worst", worst.Key, Number{worst.Ppk.Value, 2}, Number{worst.Ppk.Low, 2},
		Number{worst.Ppk.High, 2}, worst.N, Number{GoodPpk, 2}, worst.Outside+worst.NoReading, worst.Units(), Part(worst.Out)), said(t, c.Conclusions, "capability.worst"))
	assert.Equal(t, Warn("capability.skewed", 1, 3, Number{NormalAlpha, 2}), said(t, c.Conclusions, "capability.skewed"))
	assert.Equal(t, Warn("capability.noindex", 2897, Names{"1"}), said(t, c.Conclusions, "capability.noindex"))
	assert.Equal(t, Say("capability.within", SubgroupSize), c.Conclusions[len(c.Conclusions)-1])

	// Of the newest 120 units alone; no key that can be judged is an error with its reason.
	c, err = AskCapability(t.Context(), line.Store, CapabilityAsked{Selection: all, Keys: KeyChoice{Group: "vents"}, Last: 120})
	require.NoError(t, err)
	require.Len(t, c.Rows, 1)
	assert.Equal(t, answerstest.Contact(first[len(first)-120:], 3), c.Rows[0].Values)
	_, err = AskCapability(t.Context(), line.Store, CapabilityAsked{Selection: all, Keys: KeyChoice{Labels: []string{"3"}}})
	assert.ErrorIs(t, err, ErrNoLimits)
	assert.ErrorContains(t, err, "key 3: ")
	few := new(TooFewError)
	_, err = AskCapability(t.Context(), units(t, "ppp"), CapabilityAsked{Selection: all, Keys: KeyChoice{Labels: []string{"1"}}})
	require.ErrorAs(t, err, &few)
	assert.Equal(t, 3, few.Have)
}

// A level that moves from one subgroup to the next shows beside the spread within.
func TestCapabilityOfALevelThatMoves(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 0))
	var ohms [][]float64
	for i := range 60 {
		ohms = append(ohms, []float64{60 + rng.NormFloat64(), 70 + 6*math.Sin(float64(i/SubgroupSize)) + rng.NormFloat64()})
	}
	c, err := AskCapability(t.Context(), answerstest.Units(t, ohms...), CapabilityAsked{Selection: all,
		Keys: KeyChoice{Line: "R1"}})
	require.NoError(t, err)
	assert.Equal(t, Warn("capability.moved", 1, 2, Names{"2"}), said(t, c.Conclusions, "capability.moved"))
}

// From a fifth more than the spread within on, a level moves (common practice).
func TestCapabilityWordsOfSpreads(t *testing.T) {
	of := func(key string, sd float64) KeyCapability { return KeyCapability{Key: key, SD: sd, Within: 10} }
	words := jigs{}.before([]KeyCapability{of("1", 12), of("2", 12.1), of("3", 30)})
	assert.Equal(t, Warn("capability.moved", 2, 3, Names{"2", "3"}), said(t, words, "capability.moved"))
	assert.NotContains(t, codesOf(jigs{}.before([]KeyCapability{of("1", 12)})), "capability.moved")
	mixed := jigs{names: Names{"J-1", "J-2"}}.before([]KeyCapability{of("1", 30)})
	assert.Equal(t, []Sentence{Warn("capability.jigs", 2, Names{"J-1", "J-2"}), Warn("capability.moved", 1, 1, Names{"1"})}, mixed)
}

func TestDrawingsOfNothing(t *testing.T) {
	assert.Empty(t, KeyCapability{}.Plot())
	assert.Empty(t, KeyCapability{}.Histogram(5).Counts)
	assert.Equal(t, 3, func() (n int) {
		for _, c := range (KeyTolerance{Values: []float64{1, 2, 3}}).Histogram(5).Counts {
			n += int(c)
		}
		return n
	}())
	assert.True(t, math.IsNaN(quantiles(nil).Median))
}

func TestCompareOfADay(t *testing.T) {
	line := answerstest.Day(t)
	c, err := AskCompare(t.Context(), line.Store, CompareAsked{Selection: all, By: lines.ByShift, A: answerstest.EarlyShift,
		B: answerstest.LateShift, Across: lines.ByJig})
	require.NoError(t, err)
	sides := [2]func(int) []float64{}
	var table, strata [2][2]int
	for i, operator := range []string{"Ines", "Ann"} { // one in each shift
		of := line.First(answerstest.By(operator))
		table[i] = [2]int{answerstest.Passed(of), len(of) - answerstest.Passed(of)}
		sides[i] = func(key int) []float64 { return answerstest.Contact(of, key) }
		assert.Equal(t, [2]int{len(of), answerstest.Passed(of)}, [2]int{c.Sides[i].Units, c.Sides[i].FirstPassed})
		strata[i] = [2]int{answerstest.Passed(of), len(of)}
	}
	fisher, err := compare.Fisher(compare.Table2(table), 0.95)
	require.NoError(t, err)
	assert.Equal(t, [2]any{Chance(fisher.P), EstimateOf(fisher.Conditional, fisher.Odds)}, [2]any{c.P, c.Odds})
	difference, i, err := compare.ShareDifference(strata[0][0], strata[0][1], strata[1][0], strata[1][1], 0.95)
	require.NoError(t, err)
	assert.Equal(t, EstimateOf(difference, i), c.Difference)

	var tables []compare.Table2
	for _, jig := range []string{answerstest.OtherJig, answerstest.LocalJig} {
		var one compare.Table2
		for i, operator := range []string{"Ines", "Ann"} {
			for _, run := range line.First(answerstest.By(operator)) {
				if run.Jig.Serial == jig {
					one[i][map[bool]int{true: 0, false: 1}[run.Outcome == "pass"]]++
				}
			}
		}
		tables = append(tables, one)
	}
	within, err := compare.CochranMantelHaenszel(tables, 0.95)
	require.NoError(t, err)
	require.NotNil(t, c.Within)
	assert.Equal(t, 2, c.Within.Strata)
	assert.InDelta(t, within.OddsRatio, c.Within.Odds.Value, 1e-9)
	assert.InDelta(t, within.P, float64(c.Within.P), 1e-9)

	// Readings within each jig, ranked by themselves.
	inJigs := func(key int) (list []compare.Stratum) {
		for _, jig := range []string{answerstest.OtherJig, answerstest.LocalJig} {
			of := func(operator string) []float64 {
				runs := line.First(answerstest.By(operator))
				i := 0
				for _, r := range runs {
					if r.Jig.Serial == jig {
						runs[i] = r
						i++
					}
				}
				return answerstest.Contact(runs[:i], key)
			}
			list = append(list, compare.Stratum{X: of("Ines"), Y: of("Ann")})
		}
		return list
	}
	for key, k := range c.Rows {
		want, err := compare.VanElteren(inJigs(key), 0.95)
		require.NoError(t, err)
		assert.InDelta(t, want.P, float64(k.RankP), 1e-9)
		assert.InDelta(t, want.Shift, k.Shift.Value, 1e-9)
		assert.True(t, math.IsNaN(float64(k.ShapeP)))
		assert.Equal(t, [2]int{want.N1, want.N2}, k.N)
	}
	assert.Equal(t, []string{"compare.strata.chance", "compare.absence", "compare.crude", "compare.keys",
		"compare.most", "compare.keys.notshown"}, codesOf(c.Conclusions))
	assert.Equal(t, Say("compare.strata.chance", Word("by.jig"), 2, answerstest.EarlyShift, Number{c.Within.Odds.Value, 2},
		Number{c.Within.Odds.Low, 2}, Number{c.Within.Odds.High, 2}, c.Within.P),
		said(t, c.Conclusions, "compare.strata.chance"))
	for _, by := range []lines.Dimension{lines.ByDay, lines.ByHour, lines.ByLot, lines.ByOperator, lines.ByRevision} {
		of, err := AskCompare(t.Context(), line.Store, CompareAsked{Selection: all, By: lines.ByShift, A: answerstest.EarlyShift,
			B: answerstest.LateShift, Across: by})
		require.NoError(t, err, by)
		assert.Len(t, of.Rows, 4, by)
	}

	c, err = AskCompare(t.Context(), line.Store, CompareAsked{Selection: all, By: lines.ByShift, A: answerstest.EarlyShift,
		B: answerstest.LateShift})
	require.NoError(t, err)
	require.Len(t, c.Rows, 4)
	var p []float64
	for key, k := range c.Rows {
		x, y := sides[0](key), sides[1](key)
		rank, err := compare.MannWhitney(x, y, 0.95)
		require.NoError(t, err)
		shape, err := compare.KolmogorovSmirnov(x, y)
		require.NoError(t, err)
		assert.Equal(t, [2]int{len(x), len(y)}, k.N)
		assert.InDelta(t, rank.Shift, k.Shift.Value, 1e-9)
		assert.InDelta(t, rank.P, float64(k.RankP), 1e-9)
		assert.InDelta(t, shape.P, float64(k.ShapeP), 1e-9)
		p = append(p, min(1, 2*min(rank.P, shape.P)))
		assert.Equal(t, key == 1, k.Differs, "key 2 alone reads more later")
	}
	for i := range p {
		assert.InDelta(t, compare.Holm(p)[i], float64(c.Rows[i].HolmP), 1e-9)
		assert.InDelta(t, compare.BenjaminiHochberg(p)[i], float64(c.Rows[i].BHP), 1e-9)
	}
	assert.InDelta(t, -answerstest.LateBy, c.Rows[1].Shift.Value, 1.5)
	assert.Equal(t, []string{"compare.chance", "compare.size", "compare.absence", "compare.keys",
		"compare.most", "compare.keys.notshown"}, codesOf(c.Conclusions))
	assert.Equal(t, Warn("compare.keys", 1, 4, Names{"2"}, Say("compare.tests")), said(t, c.Conclusions, "compare.keys"))
	s := c.Rows[1].Shift
	assert.Equal(t, Say("compare.most", "2", answerstest.EarlyShift, Number{s.Value, 2}, Number{s.Low, 2}, Number{s.High, 2},
		Word("unit.ohm"), answerstest.LateShift), said(t, c.Conclusions, "compare.most"))
}

// two is a line of two jigs, by letters as in units.
func two(t *testing.T, here, there string) *results.Store {
	t.Helper()
	var list []results.Entry
	at := 0
	for i, letters := range []string{here, there} {
		for _, letter := range letters {
			run := answerstest.Run(answerstest.Vents, answerstest.Serial(at), started(at), 60, 70, 80, 90)
			switch letter {
			case 'h':
				run = answerstest.Failed(run, "key high", 0)
			case 'o':
				run = answerstest.Failed(run, "key open", 2)
			}
			run.Jig.Serial = []string{answerstest.OtherJig, answerstest.LocalJig}[i]
			run.Operator = []string{"Ines", "Ann"}[i]
			list, at = append(list, answerstest.Of(answerstest.Vents, run)), at+1
		}
	}
	return answerstest.Store(t, list...)
}

func TestCompareOfAFewUnits(t *testing.T) {
	const none, many = "hhhhhhhhhhhh", "pppppppppppp"
	for name, c := range map[string]struct {
		here, there string
		across      lines.Dimension
		want        Sentence // the first
		more        string   // the codes of the others, without compare.
	}{
		"all passed":     {many, many, "", Say("compare.allpassed"), ""},
		"none passed":    {none, none, "", Say("compare.nonepassed"), ""},
		"here better":    {many, none, "", Warn("compare.better", "J-0041", "J-0042"), "size notshown"},
		"there better":   {none, many, "", Warn("compare.better", "J-0042", "J-0041"), "size notshown"},
		"by chance":      {"hp", "pp", "", Say("compare.chance", "J-0041", "J-0042"), "size absence"},
		"nothing shared": {many, none, lines.ByOperator, Warn("compare.better", "J-0041", "J-0042"), "size notshown nostrata"},
		"shared":         {many, none, lines.ByProduct, Sentence{Code: "compare.strata.differ"}, "notshown crude"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := AskCompare(t.Context(), two(t, c.here, c.there), CompareAsked{Selection: all, By: lines.ByJig,
				A: answerstest.OtherJig, B: answerstest.LocalJig, Across: c.across, Yields: true})
			require.NoError(t, err)
			assert.Empty(t, got.Rows, "no readings were asked for")
			if c.want.Args != nil || got.Conclusions[0].Args == nil {
				assert.Equal(t, c.want, got.Conclusions[0])
			}
			assert.Equal(t, c.want.Code, got.Conclusions[0].Code)
			more := strings.ReplaceAll(strings.Join(codesOf(got.Conclusions)[1:], " "), "compare.", "")
			assert.Equal(t, c.more, more)
			if c.across != "" {
				assert.Equal(t, map[lines.Dimension]int{lines.ByOperator: 0, lines.ByProduct: 1}[c.across], got.Within.Strata)
			}
		})
	}
	// Ties everywhere: nothing tells the keys apart.
	got, err := AskCompare(t.Context(), two(t, many, many), CompareAsked{Selection: all, By: lines.ByOperator, A: "Ines", B: "Ann"})
	require.NoError(t, err)
	assert.Equal(t, []Sentence{Say("compare.allpassed"), Say("compare.keys.none", 4, Say("compare.tests")), Say("compare.absence.keys")},
		got.Conclusions)
	assert.Equal(t, [3]any{Chance(1), 0.0, 0.5}, [3]any{got.Rows[0].HolmP, got.Rows[0].Shift.Value, got.Rows[0].Larger})

	// A key that one side never closed is left out by name, and no difference.
	got, err = AskCompare(t.Context(), two(t, many, "oooooo"), CompareAsked{Selection: all, By: lines.ByJig,
		A: answerstest.OtherJig, B: answerstest.LocalJig})
	require.NoError(t, err)
	assert.Error(t, got.Rows[2].Why)
	assert.Equal(t, [3]any{[2]int{12, 0}, false, Chance(1)}, [3]any{got.Rows[2].N, got.Rows[2].Differs, got.Rows[2].HolmP})
	assert.Equal(t, Say("compare.leftout", Names{"3"}), said(t, got.Conclusions, "compare.leftout"))
}

// Two revisions are judged by limits of their own.
func TestCompareOfRevisions(t *testing.T) {
	keys := slices.Clone(answerstest.Keys)
	keys[0].Limits[1] = 150
	tighter := answerstest.Pad("VC-4", "D", keys...)
	var list []results.Entry
	for i := range 12 {
		rev := answerstest.Vents
		if i >= 6 {
			rev = tighter
		}
		run := answerstest.Run(rev, answerstest.Serial(i), started(i), 60+float64(i), 70, 80, 90)
		if i%6 == 0 {
			run = answerstest.Failed(run, "key high", 0)
		}
		list = append(list, answerstest.Of(rev, run))
	}
	s := answerstest.Store(t, list...)
	c, err := AskCompare(t.Context(), s, CompareAsked{Selection: all, By: lines.ByRevision, A: "C", B: "D", Yields: true})
	require.NoError(t, err)
	assert.Len(t, c.Mixed.Revisions, 2)
	assert.Contains(t, codesOf(c.Conclusions), "compare.limits")
	_, err = AskCompare(t.Context(), s, CompareAsked{Selection: all, By: lines.ByLot, A: "C", B: "D"})
	assert.ErrorIs(t, err, lines.ErrNoUnits)
	assert.ErrorContains(t, err, "lot C; ", "which side has none")
	assert.Equal(t, [2]bool{true, false}, [2]bool{Comparable(lines.ByLot), Comparable(lines.ByHour)})

	mixed := new(lines.MixedError)
	_, err = AskCapability(t.Context(), s, CapabilityAsked{Selection: all})
	assert.ErrorAs(t, err, &mixed, "readings with several limits are not pooled")
}

func TestLimitsOfADay(t *testing.T) {
	line := answerstest.Day(t)
	guard := 0.0
	proposed := Spec{Lower: math.Inf(-1), Upper: 70}
	w, err := AskLimits(t.Context(), line.Store, LimitsAsked{Selection: all, Keys: KeyChoice{Labels: []string{"2"}},
		Side: OnlyUpper, Proposed: &proposed, Guard: &guard})
	require.NoError(t, err)
	first := line.First(nil)
	read := answerstest.Contact(first, 1)
	above := 0
	for _, v := range read {
		if v > 70 {
			above++
		}
	}
	require.Len(t, w.Tolerances, 1)
	tol := w.Tolerances[0]
	summary, err := stats.Summarize(read)
	require.NoError(t, err)
	normal, err := interval.NormalTolerance(read, OnlyUpper, Coverage, 0.95)
	require.NoError(t, err)
	assert.InDelta(t, summary.Mean, tol.Mean, 1e-9)
	assert.InDelta(t, summary.SD, tol.SD, 1e-9)
	assert.InDelta(t, normal.High, tol.Normal.High, 1e-9)
	assert.True(t, math.IsInf(tol.Normal.Low, -1))
	assert.Equal(t, answerstest.U, tol.U)
	test, err := capability.AndersonDarling(read)
	require.NoError(t, err)
	assert.InDelta(t, test.P, float64(tol.NormalP), 1e-9)
	assert.Equal(t, [3]int{len(first), above, 0}, [3]int{w.Units, w.At(true).Rejected, w.At(false).Rejected})
	assert.Equal(t, shareOf(t, above, len(first)), w.At(true).Share)
	assert.Equal(t, [3]int{above, above, 0}, [3]int{len(w.Changes), w.Rejects, w.LetThrough})
	assert.True(t, slices.IsSortedFunc(w.Changes, func(a, b Change) int { return int(a.Run - b.Run) }))
	assert.Len(t, w.Outcomes, 2*len(GuardMultiples), "the guard band that holds is one of those shown")
	now := w.At(true)
	assert.Equal(t, Say("limits.words", Number{0, 2}, above, len(first), Part(now.Share)), said(t, w.Conclusions, "limits.words"))
	assert.Equal(t, Say("limits.against", 0, above, 0), said(t, w.Conclusions, "limits.against"))
	assert.Equal(t, Say("limits.escapes", Figure(now.BadAccepted), Figure(now.GoodRejected)),
		said(t, w.Conclusions, "limits.escapes"))
	bad, good := 0.0, 0.0 // each reading is normal about its value, with its standard uncertainty
	for _, v := range read {
		if v <= 70 {
			bad += math.Erfc((70-v)/answerstest.U/math.Sqrt2) / 2
		} else {
			good += math.Erfc((v-70)/answerstest.U/math.Sqrt2) / 2
		}
	}
	assert.InDelta(t, bad, now.BadAccepted, 1e-9)
	assert.InDelta(t, good, now.GoodRejected, 1e-9)
	assert.NotContains(t, codesOf(w.Conclusions), "limits.loosened")

	// Nothing is tried: no outcome. What was over range is said, and the product's guard band holds.
	w, err = AskLimits(t.Context(), line.Store, LimitsAsked{Selection: all})
	require.NoError(t, err)
	assert.Equal(t, [3]any{0, 12, 0.5}, [3]any{len(w.Outcomes), w.Over, w.GuardU})
	assert.Equal(t, Warn("limits.over", 12), said(t, w.Conclusions, "limits.over"))
	assert.Contains(t, said(t, w.Conclusions, "limits.tolerance.notnormal").Args[3], "1")
	assert.Equal(t, Say("limits.tolerance.words", Percent{Coverage, 1}, Percent{0.95, 0}), w.Conclusions[0])
	assert.Equal(t, Outcome{}, w.At(true))
}

func TestLimitsThatLoosen(t *testing.T) {
	s := answerstest.Units(t, []float64{60, 95}, []float64{61, 105}, []float64{62, 115}, []float64{63, 90})
	zero, proposed := 0.0, Spec{Lower: math.Inf(-1), Upper: 110}
	asked := LimitsAsked{Selection: all, Keys: KeyChoice{Labels: []string{"2"}}, Proposed: &proposed, Guard: &zero, Side: OnlyUpper}
	w, err := AskLimits(t.Context(), s, asked)
	require.NoError(t, err)
	assert.Equal(t, []Change{{answerstest.Serial(1), 2, true}}, w.Changes)
	assert.Equal(t, Warn("limits.loosened", 1), said(t, w.Conclusions, "limits.loosened"))
	assert.Equal(t, Say("limits.against", 2, 0, 1), said(t, w.Conclusions, "limits.against"))
	few := new(TooFewError)
	assert.ErrorAs(t, w.Tolerances[0].WhyNoFree, &few)
	assert.True(t, math.IsNaN(w.Tolerances[0].Free.High))

	// A key without a limit in force: nothing to hold the proposed one against.
	s = answerstest.Units(t, []float64{60, 95, 80}, []float64{61, 105, 120})
	asked.Keys.Labels = []string{"3"}
	w, err = AskLimits(t.Context(), s, asked)
	require.NoError(t, err)
	assert.Equal(t, [2]any{false, 1}, [2]any{w.At(false).Limited, w.At(true).Rejected})
	assert.NotContains(t, codesOf(w.Conclusions), "limits.against")

	// One reading of the only key has no tolerance interval; several keys are told with their reasons.
	s = answerstest.Units(t, []float64{60, 95})
	_, err = AskLimits(t.Context(), s, asked)
	assert.Error(t, err, "key 3 was not measured")
	asked.Keys.Labels = []string{"2"}
	_, err = AskLimits(t.Context(), s, asked)
	require.ErrorAs(t, err, &few)
	assert.ErrorContains(t, err, "key 2: ")
	asked.Keys.Labels = []string{"1", "2"}
	w, err = AskLimits(t.Context(), s, asked)
	require.NoError(t, err)
	assert.True(t, errors.As(w.Tolerances[0].Why, &few) && math.IsNaN(w.Tolerances[0].Normal.High))
	assert.Zero(t, guardOf(nil, Reading{}))
}

func TestSpecificationOfLimits(t *testing.T) {
	assert.Equal(t, Spec{Lower: 10, Upper: 130}, SpecOf([2]float64{10, 130}))
	assert.Equal(t, Spec{Lower: math.Inf(-1), Upper: 130}, SpecOf([2]float64{0, 130}))
	assert.Equal(t, Spec{Lower: 10, Upper: math.Inf(1)}, SpecOf([2]float64{10, 0}))
}
