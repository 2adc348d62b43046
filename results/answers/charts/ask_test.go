package charts

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/answerstest"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/stats"
	"padjig/results/stats/control"
	"padjig/results/store"
	"padjig/sequence"
)

var all = answers.Selection{Filter: answerstest.Simulated}

func key(labels ...string) answers.KeyChoice { return answers.KeyChoice{Labels: labels} }

func codesOf(list []answers.Sentence) (out []string) {
	for _, s := range list {
		out = append(out, s.Code)
	}
	return out
}

func said(t *testing.T, list []answers.Sentence, code string) answers.Sentence {
	t.Helper()
	i := slices.Index(codesOf(list), code)
	require.GreaterOrEqual(t, i, 0, "%s in %v", code, codesOf(list))
	return list[i]
}

// fives cuts readings into full subgroups of five.
func fives(values []float64) (out [][]float64) {
	for group := range slices.Chunk(values, 5) {
		if len(group) == 5 {
			out = append(out, group)
		}
	}
	return out
}

func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}

// The default chart of a key, against its readings as they were sent.
func TestSubgroupsOfADay(t *testing.T) {
	line := answerstest.Day(t)
	for kind, baseline := range map[ChartKind]func([][]float64) (control.Subgrouped, error){
		XbarS: control.NewXbarS, XbarR: control.NewXbarR} {
		t.Run(string(kind), func(t *testing.T) {
			c, err := AskChart(t.Context(), line.Store, ChartAsked{Selection: all, Kind: kind, Keys: key("2")})
			require.NoError(t, err)
			groups := fives(answerstest.Contact(line.First(nil), 1))
			require.Len(t, groups, 48)
			b, err := baseline(groups[:answers.BaselineSubgroups])
			require.NoError(t, err)
			z, err := b.Standardize(groups)
			require.NoError(t, err)
			flags := control.DefaultRules.Flags(z)
			require.Equal(t, [2]int{48, 48}, [2]int{len(c.Panels[0].Points), len(c.Panels[1].Points)})
			signals := 0
			for i, q := range c.Panels[0].Points {
				assert.InDelta(t, mean(groups[i]), q.Value, 1e-9)
				assert.InDelta(t, b.Limits(5).Upper, q.Limits.Upper, 1e-9)
				assert.InDelta(t, b.Spread.Of(groups[i]), c.Panels[1].Points[i].Value, 1e-9)
				assert.Len(t, q.Signals, len(flags[i]), "point %d", i)
				if len(flags[i]) > 0 {
					signals++
				}
				assert.Equal(t, [2]any{answerstest.Serial(5 * i), 2}, [2]any{q.Name, q.Jigs}, "both jigs take turns")
			}
			assert.Equal(t, signals, c.Panels[0].Signals())
			assert.Positive(t, signals, "the level rises with the late shift")
			assert.Equal(t, [3]any{25, 0, [2]float64{0, 100}}, [3]any{c.Base, c.Dropped, c.Limits})
			assert.Equal(t, answers.Say("charts.base", 25, 48), c.Conclusions[0])
			assert.Contains(t, codesOf(c.Conclusions), "charts.jigs")
			assert.Contains(t, codesOf(c.Conclusions), "charts.cause")

			// Lots change with the late shift: at the same place on both jigs, so that it is one event.
			require.Len(t, c.Events, 1)
			e := c.Events[0]
			assert.Equal(t, [4]any{"a", 24, lines.LotChanged, answerstest.OtherJig + ", " + answerstest.LocalJig},
				[4]any{e.Mark, e.Before, e.Kind, e.Jig})
			assert.Equal(t, "13:59", e.At.Format("15:04"), "told in the zone of the shifts")
		})
	}
}

func TestSubgroupRulesOfADay(t *testing.T) {
	line := answerstest.Day(t)
	for rule, want := range map[string][]string{
		ByHour:  {"03-02 06:00", "03-02 07:00"},
		ByShift: {"03-02 early", "03-02 late"},
		ByLot:   {"membrane " + answerstest.FirstLot, "membrane " + answerstest.SecondLot},
	} {
		t.Run(rule, func(t *testing.T) {
			c, err := AskChart(t.Context(), line.Store, ChartAsked{Selection: all, Keys: key("4"), Subgroup: rule})
			require.NoError(t, err)
			read := answerstest.Contact(line.First(nil), 3)
			points := c.Panels[0].Points
			n := len(read) / len(points) // as many in each
			assert.Equal(t, map[string]int{ByHour: 15}[rule]+map[bool]int{true: 120}[rule != ByHour], n)
			for i, part := range slices.Collect(slices.Chunk(read, n)) {
				assert.InDelta(t, mean(part), points[i].Value, 1e-9)
				assert.Equal(t, n, points[i].N)
			}
			assert.Contains(t, points[0].Name, strings.TrimPrefix(want[0], "membrane "))
			assert.Contains(t, points[1].Name, strings.TrimPrefix(want[1], "membrane "))
			assert.Equal(t, rule, c.Identity.Subgroup)
			assert.Equal(t, answers.Warn("charts.preliminary", len(points), answers.LeastBaseline),
				said(t, c.Conclusions, "charts.preliminary"))
		})
	}
	few := new(stats.TooFewError)
	_, err := AskChart(t.Context(), line.Store, ChartAsked{Selection: all, Keys: key("4"), Subgroup: ByDay})
	require.ErrorAs(t, err, &few)
	assert.Equal(t, stats.TooFewError{Have: 1, Need: 2, What: "subgroups"}, *few)
}

// The reading of several keys is their mean in each unit; an open key is left out and said.
func TestSinglesOfSeveralKeys(t *testing.T) {
	s := answerstest.Units(t, []float64{60, 70}, []float64{61, 75}, []float64{63, 71}, []float64{60}, []float64{62, 72})
	c, err := AskChart(t.Context(), s, ChartAsked{Selection: all, Kind: IMR, Keys: key("1", "2")})
	require.NoError(t, err)
	var got []float64
	for _, q := range c.Panels[0].Points {
		got = append(got, q.Value)
	}
	assert.Equal(t, []float64{65, 68, 67, 60, 67}, got)
	assert.InDelta(t, 65.4, c.Panels[0].Points[0].Limits.Center, 1e-9)
	// Moving ranges 3, 1, 7, 7: mean 4.5, over d2 of 1.128.
	assert.InDelta(t, 65.4+3*4.5/1.128379, c.Panels[0].Points[0].Limits.Upper, 1e-4)
	assert.Equal(t, [2]float64{}, c.Limits, "several keys have no limits in common")
	assert.Equal(t, "1", c.Identity.Subgroup)
	assert.Equal(t, answers.Say("charts.calm", 5), said(t, c.Conclusions, "charts.calm"))
	assert.Equal(t, answers.Say("charts.spread.calm", answers.Word("panel.moving-range")),
		said(t, c.Conclusions, "charts.spread.calm"))

	// A unit whose keys were not read is no point; so many are left out.
	line := answerstest.Day(t)
	c, err = AskChart(t.Context(), line.Store, ChartAsked{Selection: all, Kind: IMR, Keys: key("3")})
	require.NoError(t, err)
	assert.Equal(t, [2]int{12, answerstest.DayUnits - 12}, [2]int{c.Over, len(c.Panels[0].Points)})
	assert.Equal(t, answers.Warn("charts.over", 12), said(t, c.Conclusions, "charts.over"))
}

// A far reading signals in every chart of single values, and in the one of ranges.
func TestSignalsOfSingles(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 0))
	var ohms [][]float64
	var values []float64
	for i := range 40 {
		v := 60 + rng.NormFloat64()
		if i >= 30 {
			v += 4
		}
		ohms, values = append(ohms, []float64{v}), append(values, answerstest.Stored(v))
	}
	s := answerstest.Units(t, ohms...)
	base, err := control.NewIndividuals(values[:25])
	require.NoError(t, err)
	ask := func(kind ChartKind) Chart {
		c, err := AskChart(t.Context(), s, ChartAsked{Selection: all, Kind: kind, Keys: key("1")})
		require.NoError(t, err)
		return c
	}

	c := ask(IMR)
	assert.Equal(t, answers.Say("charts.base", 25, 40), c.Conclusions[0])
	assert.NotEmpty(t, c.Panels[0].Points[39].Signals)
	rule := said(t, c.Conclusions, "charts.rule")
	assert.Equal(t, answers.Attention, rule.Tone)
	out := 0
	for _, v := range values {
		if base.Limits().Out(v) {
			out++
		}
	}
	require.Positive(t, out)
	assert.Equal(t, []any{1, answers.Word("rule." + control.AllRules()[0].String()), out}, rule.Args)
	jumps := 0
	for _, v := range control.MovingRanges(values) {
		if base.RangeLimits().Out(v) {
			jumps++
		}
	}
	assert.Equal(t, jumps, c.Panels[1].Signals())
	require.Positive(t, jumps)
	assert.Equal(t, answers.Warn("charts.spread.out", answers.Word("panel.moving-range"), jumps),
		said(t, c.Conclusions, "charts.spread.out"))

	c = ask(EWMA)
	average, signals := base.Mean, 0
	for i, v := range values { // by the recursion itself
		average += answers.Lambda * (v - average)
		q := c.Panels[0].Points[i]
		assert.InDelta(t, average, q.Value, 1e-9)
		if q.Limits.Out(average) {
			signals++
			assert.Equal(t, []string{Outside}, q.Signals)
		}
	}
	assert.Equal(t, answers.Warn("charts.outside", signals), said(t, c.Conclusions, "charts.outside"))
	assert.Equal(t, answers.Say("charts.ewma", answers.Number{Value: 0.2, Digits: 2}, answers.Number{Value: 2.962, Digits: 3}),
		said(t, c.Conclusions, "charts.ewma"))
	lag, chance := control.Lag1(values)
	assert.Equal(t, [3]any{lag, chance, true}, [3]any{c.RunLength.Lag1, c.RunLength.Chance, c.RunLength.Dependent}, "the level moves within them")
	assert.Less(t, c.RunLength.Quiet, 100.0)
	calm := charting{Chart: Chart{ChartAsked: c.ChartAsked}}
	w, _, err := calm.watched()
	require.NoError(t, err)
	assert.InDelta(t, 500, w.RunLength(0).Mean, 10, "Lucas and Saccucci 1990: a false alarm every 500 points")

	c = ask(Cusum)
	high, since, first := 0.0, 0, -1
	for i, v := range values {
		if high = max(0, high+v-base.Mean-0.5*base.Sigma); high > 0 {
			since++
		} else {
			since = 0
		}
		assert.InDelta(t, high, c.Panels[0].Points[i].Value, 1e-9)
		if first < 0 && high > 5*base.Sigma {
			first = i
			assert.Equal(t, answers.Warn("charts.sum.out", answers.Word("panel.cusum-high"), i+1, answerstest.Serial(i), i+2-since),
				said(t, c.Conclusions, "charts.sum.out"))
		}
	}
	require.GreaterOrEqual(t, first, 30)
	assert.Equal(t, answers.Say("charts.sum.calm", answers.Word("panel.cusum-low")), said(t, c.Conclusions, "charts.sum.calm"))
	calm.ChartAsked = c.ChartAsked
	w, _, err = calm.watched()
	require.NoError(t, err)
	assert.InDelta(t, 465, w.RunLength(0).Mean, 3, "e-Handbook 6.3.2.3: h of 5, k of 0.5")
	assert.InDelta(t, 10.4, w.RunLength(1).Mean, 0.05)
}

func TestCountsOfADay(t *testing.T) {
	line := answerstest.Day(t)
	first := line.First(nil)
	hour := func(r sequence.Run) int { return int(r.Started.Sub(answerstest.Begin) / time.Hour) }
	var failed, open [16]int
	for _, r := range first {
		if r.Outcome != sequence.Pass {
			failed[hour(r)]++
			if r.Findings[0].What == "key open" {
				open[hour(r)]++
			}
		}
	}
	share := 18.0 / answerstest.DayUnits
	for _, c := range []struct {
		kind    ChartKind
		finding string
		counts  [16]int
		of      float64 // value of one
		center  float64
	}{
		{P, "", failed, 1.0 / 15, share},
		{NP, "", failed, 1, 15 * share},
		{U, "", failed, 1.0 / 15, share},
		{C, "", failed, 1, 15 * share},
		{C, "key open", open, 1, 15 * 12.0 / answerstest.DayUnits},
	} {
		t.Run(string(c.kind)+c.finding, func(t *testing.T) {
			got, err := AskChart(t.Context(), line.Store, ChartAsked{Selection: all, Kind: c.kind, Finding: c.finding})
			require.NoError(t, err)
			points := got.Panels[0].Points
			require.Len(t, points, 16)
			for i, q := range points {
				assert.InDelta(t, float64(c.counts[i])*c.of, q.Value, 1e-12, "hour %d", i)
				assert.InDelta(t, c.center, q.Limits.Center, 1e-12)
				assert.True(t, q.Start.Equal(answerstest.Begin.Add(time.Duration(i)*time.Hour)))
			}
			assert.Equal(t, c.finding, got.Identity.Finding)
			assert.Empty(t, got.Identity.Measure)
		})
	}
	// Three standard deviations of a count of Poisson, and of a share of 15.
	c, err := AskChart(t.Context(), line.Store, ChartAsked{Selection: all, Kind: C})
	require.NoError(t, err)
	assert.InDelta(t, 1.125+3*1.0606602, c.Panels[0].Points[0].Limits.Upper, 1e-6)
	c, err = AskChart(t.Context(), line.Store, ChartAsked{Selection: all, Kind: P, Last: 10})
	require.NoError(t, err)
	require.Len(t, c.Panels[0].Points, 10, "the newest rows")
	sum := 0
	for _, n := range failed[6:] {
		sum += n
	}
	pooled := float64(sum) / 150
	assert.InDelta(t, pooled, c.Panels[0].Points[0].Limits.Center, 1e-12)

	// By units in a row: the last part of 240 units in sevens is not full.
	c, err = AskChart(t.Context(), line.Store, ChartAsked{Selection: all, Kind: NP, Subgroup: ByUnits, Size: 7})
	require.NoError(t, err)
	require.Len(t, c.Panels[0].Points, 34)
	assert.Equal(t, [2]any{1, "7"}, [2]any{c.Dropped, c.Identity.Subgroup})
	assert.Equal(t, answers.Say("charts.dropped", 1), said(t, c.Conclusions, "charts.dropped"))
	for i, part := range slices.Collect(slices.Chunk(first, 7))[:34] {
		assert.EqualValues(t, 7-answerstest.Passed(part), c.Panels[0].Points[i].Value)
		assert.Equal(t, part[0].Serial, c.Panels[0].Points[i].Name)
	}
}

func TestChartsThatCannotBeAsked(t *testing.T) {
	calm := answerstest.Units(t, []float64{60, 70, 0}, []float64{61, 72, 0}, []float64{62, 71, 0})
	same := answerstest.Units(t, []float64{60}, []float64{60}, []float64{60})
	missing, few := new(lines.MissingKeysError), new(stats.TooFewError)
	for name, c := range map[string]struct {
		asked ChartAsked
		is    error
		as    any
		says  string
	}{
		"no such kind": {ChartAsked{Kind: "pie"}, nil, nil,
			`"pie" is no chart: write xbar-s, xbar-r, i-mr, ewma, cusum, p, np, c, u`},
		"no such subgroup":     {ChartAsked{Subgroup: "week"}, nil, nil, `subgroup "week": write units, hour, day, lot, shift`},
		"a subgroup of one":    {ChartAsked{Size: 1}, nil, nil, "a subgroup needs at least 2 units"},
		"defects by units":     {ChartAsked{Kind: U, Subgroup: ByUnits}, nil, nil, "c and u charts go by hour, day, lot or shift"},
		"the last one":         {ChartAsked{Last: 1}, nil, nil, "a chart needs at least 2 units"},
		"no such key":          {ChartAsked{Keys: key("99")}, nil, &missing, "99"},
		"no reading":           {ChartAsked{Kind: IMR, Keys: key("3")}, stats.ErrEmpty, nil, ""},
		"one subgroup":         {ChartAsked{Size: 2, Keys: key("1")}, nil, &few, ""},
		"one unit":             {ChartAsked{Kind: IMR, Keys: key("1"), Baseline: 1}, nil, nil, ""},
		"none failed":          {ChartAsked{Kind: P}, stats.ErrNoSpread, nil, ""},
		"no defect":            {ChartAsked{Kind: C}, stats.ErrNoSpread, nil, ""},
		"no average":           {ChartAsked{Kind: EWMA, Keys: key("1"), Lambda: 2}, nil, nil, ""},
		"no sum":               {ChartAsked{Kind: Cusum, Keys: key("1"), Decision: -1}, nil, nil, ""},
		"an allowance below 0": {ChartAsked{Kind: Cusum, Keys: key("1"), Allowance: -1}, nil, nil, ""},
	} {
		t.Run(name, func(t *testing.T) {
			c.asked.Selection = all
			_, err := AskChart(t.Context(), calm, c.asked)
			require.Error(t, err)
			if c.is != nil {
				assert.ErrorIs(t, err, c.is)
			}
			if c.as != nil {
				assert.ErrorAs(t, err, c.as)
			}
			assert.ErrorContains(t, err, c.says)
		})
	}
	_, err := AskChart(t.Context(), same, ChartAsked{Selection: all, Kind: IMR, Keys: key("1")})
	assert.ErrorIs(t, err, stats.ErrNoSpread)
	for _, kind := range []ChartKind{XbarS, P} {
		_, err = AskChart(t.Context(), same, ChartAsked{Kind: kind})
		assert.ErrorIs(t, err, lines.ErrNoUnits, "there are no real runs: %s", kind)
	}
	_, err = AskChart(t.Context(), same, ChartAsked{Selection: all, Kind: P, Subgroup: ByUnits})
	assert.ErrorIs(t, err, lines.ErrNoUnits, "three units are no five")
}

// level is a store of units whose key 1 reads about a level.
func level(t *testing.T, units int) *results.Store {
	t.Helper()
	rng := rand.New(rand.NewPCG(23, 0))
	var ohms [][]float64
	for range units {
		ohms = append(ohms, []float64{60 + rng.NormFloat64(), 70 + rng.NormFloat64()})
	}
	return answerstest.Units(t, ohms...)
}

// Frozen limits are those of the first subgroups, hold for charts that can share them
// and for no other, and the newest are in force.
func TestLimitsAreFrozen(t *testing.T) {
	s := level(t, 130)
	asked := ChartAsked{Selection: all, Keys: key("1")}
	before, err := AskChart(t.Context(), s, asked)
	require.NoError(t, err)
	id, err := Freeze(t.Context(), s, asked, "Ann", "calm since May")
	require.NoError(t, err)
	assert.Equal(t, before.Identity, id)
	assert.Equal(t, Identity{Product: answerstest.Vents.Hash, Measure: lines.Contact, Keys: "1", Chart: XbarS, Subgroup: "5"}, id)

	again := asked
	again.Baseline, again.Last = 21, 110 // other first subgroups, which no longer matter
	after, err := AskChart(t.Context(), s, again)
	require.NoError(t, err)
	require.NotNil(t, after.Frozen)
	assert.Equal(t, [4]any{0, 25, "Ann", "calm since May"},
		[4]any{after.Base, after.Frozen.Points, after.Frozen.By, after.Frozen.Reason})
	assert.Equal(t, before.Panels[0].Points[0].Limits, after.Panels[0].Points[0].Limits)
	assert.Equal(t, answers.Say("charts.frozen", after.Frozen.At.In(after.Zone), "Ann", 25, "calm since May"), after.Conclusions[0])
	var kept baseline
	require.NoError(t, json.Unmarshal(after.Frozen.Limits, &kept))
	assert.Equal(t, 25, kept.Subgrouped.Groups)

	onJig := all
	onJig.Filter.Jigs = []string{answerstest.OtherJig}
	for name, other := range map[string]ChartAsked{
		"another key":      {Selection: all, Keys: key("2")},
		"another size":     {Selection: all, Keys: key("1"), Size: 4},
		"another chart":    {Selection: all, Keys: key("1"), Kind: XbarR},
		"another measure":  {Selection: all, Keys: key("1"), Measure: lines.Closing},
		"another jig":      {Selection: onJig, Keys: key("1")},
		"another identity": {Selection: all, Keys: key("1"), Subgroup: ByHour},
	} {
		t.Run(name, func(t *testing.T) {
			c, err := AskChart(t.Context(), s, other)
			require.NoError(t, err)
			assert.Nil(t, c.Frozen)
			assert.Equal(t, min(25, len(c.Panels[0].Points)), c.Base)
		})
	}

	_, err = Freeze(t.Context(), s, again, "Bob", "new probes")
	require.NoError(t, err)
	newest, err := AskChart(t.Context(), s, asked)
	require.NoError(t, err)
	assert.Equal(t, [2]any{"Bob", 21}, [2]any{newest.Frozen.By, newest.Frozen.Points})

	// An average and a sum look at the single values of the same limits.
	_, err = Freeze(t.Context(), s, ChartAsked{Selection: all, Kind: IMR, Keys: key("1")}, "Ann", "calm")
	require.NoError(t, err)
	for _, kind := range []ChartKind{EWMA, Cusum, IMR} {
		c, err := AskChart(t.Context(), s, ChartAsked{Selection: all, Kind: kind, Keys: key("1")})
		require.NoError(t, err)
		assert.NotNil(t, c.Frozen, "%s", kind)
	}
}

func TestLimitsThatAreNotFrozen(t *testing.T) {
	few := new(ErrFewSubgroups)
	_, err := Freeze(t.Context(), level(t, 99), ChartAsked{Selection: all, Keys: key("1")}, "Ann", "calm")
	require.ErrorAs(t, err, &few)
	assert.Equal(t, "19 subgroups are too few to freeze limits: at least 20 are needed", err.Error())
	s := level(t, 100)
	_, err = Freeze(t.Context(), s, ChartAsked{Selection: all, Keys: key("1")}, "", "calm")
	require.ErrorIs(t, err, store.ErrRefused, "nobody is named")
	_, err = Freeze(t.Context(), s, ChartAsked{Selection: all, Kind: "pie"}, "Ann", "calm")
	require.Error(t, err)
	_, err = Freeze(t.Context(), s, ChartAsked{Selection: all, Kind: P}, "Ann", "calm")
	require.ErrorIs(t, err, stats.ErrNoSpread)
	_, err = Freeze(t.Context(), s, ChartAsked{Selection: all, Keys: key("1")}, "Ann", "calm")
	require.NoError(t, err, "20 subgroups are enough")

	// What somebody wrote beside the program is refused with its number.
	id := Identity{Product: answerstest.Vents.Hash, Measure: lines.Contact, Keys: "2", Chart: XbarS, Subgroup: "5"}
	for i, c := range []struct{ limits, says string }{
		{`{"subgrouped": 7}`, "baseline 2: "},
		{`{"individuals": {"Mean": 60, "Sigma": 1}}`, "baseline 3 is of another kind of chart"},
	} {
		require.NoError(t, s.Lines.SaveBaseline(t.Context(), lines.Baseline{Subject: id.String(), Points: 25,
			Limits: []byte(c.limits), Simulated: true, By: "Ann", Reason: "by hand"}))
		_, err = AskChart(t.Context(), s, ChartAsked{Selection: all, Keys: key("2")})
		assert.ErrorContains(t, err, c.says, "%d", i)
	}
}

// Limits of counts share their family: those of a p chart hold for its np chart.
func TestLimitsOfCountsAreFrozen(t *testing.T) {
	line := answerstest.Day(t)
	for _, c := range []struct{ frozen, drawn ChartKind }{{P, NP}, {NP, P}} {
		asked := ChartAsked{Selection: all, Kind: c.frozen, Subgroup: ByUnits, Size: 10}
		_, err := Freeze(t.Context(), line.Store, asked, "Ann", "calm")
		require.NoError(t, err)
		asked.Kind = c.drawn
		got, err := AskChart(t.Context(), line.Store, asked)
		require.NoError(t, err)
		require.NotNil(t, got.Frozen)
		assert.Equal(t, 24, got.Frozen.Points)
	}
}

// A shift over midnight belongs to the day on which it began; between shifts there is the day alone.
func TestShiftOfATime(t *testing.T) {
	plan := &floor.ShiftPlan{Shifts: []floor.Shift{{Name: "early", Begins: 6 * 60, Ends: 14 * 60},
		{Name: "night", Begins: 22 * 60, Ends: 5 * 60}}}
	for clock, want := range map[string]string{"06:00": "03-02 early", "13:59": "03-02 early", "14:00": "03-02",
		"22:00": "03-02 night", "04:59": "03-01 night", "05:00": "03-02", "05:59": "03-02"} {
		at, err := time.Parse("2006-01-02 15:04", "2026-03-02 "+clock)
		require.NoError(t, err)
		assert.Equal(t, want, shiftAt(plan, at), clock)
		assert.Equal(t, "03-02", shiftAt(nil, at))
	}
}

// More events than letters; what lies before the first point is not drawn.
func TestEventsAreMarked(t *testing.T) {
	assert.Equal(t, [5]string{"a", "z", "aa", "az", "ba"}, [5]string{letter(0), letter(25), letter(26), letter(51), letter(52)})
	var list []results.Entry
	for i := range 30 {
		at := answerstest.Begin.Add(time.Duration(i) * time.Minute)
		list = append(list, results.Entry{At: at.Add(-time.Second), Wear: &care.WearEvent{Jig: answerstest.OtherJig,
			Part: fmt.Sprintf("actuator %d", i+1), Simulated: true, Lot: "T", By: "Ines", Note: "worn"}},
			answerstest.Of(answerstest.Vents, answerstest.Run(answerstest.Vents, answerstest.Serial(i), at, 60+float64(i%3))))
	}
	c, err := AskChart(t.Context(), answerstest.Store(t, list...), ChartAsked{Selection: all, Kind: IMR, Keys: key("1")})
	require.NoError(t, err)
	require.Len(t, c.Events, 29)
	assert.Equal(t, [2]any{"a", 1}, [2]any{c.Events[0].Mark, c.Events[0].Before})
	assert.Equal(t, [2]any{"ac", 29}, [2]any{c.Events[28].Mark, c.Events[28].Before})
}
