package answers

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers/answerstest"
	"padjig/results/care"
	"padjig/results/fails"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/stats/compare"
	"padjig/results/stats/interval"
	"padjig/results/stats/sampling"
	"padjig/results/store"
	"padjig/sequence"
)

// all chooses every run of a line of the tests.
var all = Selection{Filter: answerstest.Simulated}

// said gives the sentence of a code, which must be there once.
func said(t *testing.T, list []Sentence, code string) Sentence {
	t.Helper()
	var found []Sentence
	for _, s := range list {
		if s.Code == code {
			found = append(found, s)
		}
	}
	require.Len(t, found, 1, "%s in %v", code, codesOf(list))
	return found[0]
}

func codesOf(list []Sentence) (out []string) {
	for _, s := range list {
		out = append(out, s.Code)
	}
	return out
}

// shareOf is a share with its interval after Wilson at 95 %.
func shareOf(t *testing.T, x, n int) Estimate {
	t.Helper()
	i, err := interval.Wilson(x, n, 0.95)
	require.NoError(t, err)
	return Estimate{float64(x) / float64(n), i.Low, i.High}
}

// started is a unit that was tested at a time of the lines' day.
func started(i int) time.Time { return answerstest.Begin.Add(time.Duration(i) * 4 * time.Minute) }

// units is a store of keypads of which some failed, by their letters: p passed, h key 1
// high, o key 3 open, ? failed and nobody knows with what.
func units(t *testing.T, letters string) *results.Store {
	t.Helper()
	var list []results.Entry
	for i, letter := range letters {
		run := answerstest.Run(answerstest.Vents, answerstest.Serial(i), started(i), 60, 70, 80, 90)
		switch letter {
		case 'h':
			run = answerstest.Failed(run, "key high", 0)
		case 'o':
			run = answerstest.Failed(run, "key open", 2)
		case '?':
			run.Outcome = sequence.Fail
		}
		list = append(list, answerstest.Of(answerstest.Vents, run))
	}
	return answerstest.Store(t, list...)
}

func TestYieldOfADay(t *testing.T) {
	line := answerstest.Day(t)
	y, err := AskYield(t.Context(), line.Store, YieldAsked{Selection: all, By: []lines.Dimension{lines.ByJig}})
	require.NoError(t, err)

	first := line.First(nil)
	passed := answerstest.Passed(first)
	require.Equal(t, [2]int{answerstest.DayUnits, answerstest.DayUnits - 18}, [2]int{len(first), passed}, "12 open, 6 high")
	assert.Equal(t, lines.Counts{Units: len(first), FirstPassed: passed, LastPassed: passed + 6 - 1, Retests: 6 + 1 + 1, Cures: 6,
		Relapses: 1, Runs: len(line.Runs), Reseat: 1, Incomplete: 1, Aborted: 1}, y.Total.Counts)
	assert.Equal(t, shareOf(t, passed, len(first)), y.Total.First)
	assert.Equal(t, shareOf(t, passed+5, len(first)), y.Total.Final)

	var table [][]int
	for i, jig := range []string{answerstest.OtherJig, answerstest.LocalJig} {
		of := line.First(answerstest.On(jig))
		table = append(table, []int{answerstest.Passed(of), len(of) - answerstest.Passed(of)})
		assert.Equal(t, []string{jig}, y.Rows[i].Groups)
		assert.Equal(t, [2]int{len(of), table[i][0]}, [2]int{y.Rows[i].Units, y.Rows[i].FirstPassed})
		assert.Equal(t, shareOf(t, table[i][0], len(of)), y.Rows[i].First)
	}
	test, err := compare.ChiSquare(table)
	require.NoError(t, err)
	assert.Equal(t, &Homogeneity{2, test.Statistic, 1, Chance(test.P), false}, y.Differ)
	assert.Equal(t, Say("yield.alike", 2, Number{test.Statistic, 1}, 1, Chance(test.P)), said(t, y.Conclusions, "yield.alike"))
	assert.Equal(t, Say("yield.words", passed, len(first), Part(y.Total.First), Part(y.Total.Final)), y.Conclusions[0])
	assert.Equal(t, Say("yield.retests", 8, 6, 1), said(t, y.Conclusions, "yield.retests"))
	assert.Equal(t, Say("stops.none", answerstest.DayUnits), said(t, y.Conclusions, "stops.none"))
}

// What is said of tiny lines, worked by hand.
func TestYieldOfAFewUnits(t *testing.T) {
	for name, c := range map[string]struct {
		units string
		by    []lines.Dimension
		want  []string // beside yield.words and what is said of stops
	}{
		"one":         {"p", nil, []string{"yield.one"}},
		"one failed":  {"h", nil, []string{"yield.one"}},
		"all passed":  {"ppppp", nil, []string{"yield.allpassed"}},
		"none passed": {"ho", nil, []string{"yield.nonepassed"}},
		"some":        {"phppp", nil, nil},
		"one group":   {"phppp", []lines.Dimension{lines.ByJig}, nil},
		"too few":     {"pphpppppppppppppp", []lines.Dimension{lines.ByHour}, []string{"yield.toofew"}},
		"rough": {"ppphhhhppppppp" + "hhhhhhhhhhhhhhh", []lines.Dimension{lines.ByHour},
			[]string{"yield.differ", "yield.rough"}},
	} {
		t.Run(name, func(t *testing.T) {
			y, err := AskYield(t.Context(), units(t, c.units), YieldAsked{Selection: all, By: c.by})
			require.NoError(t, err)
			got := codesOf(y.Conclusions)
			assert.Equal(t, append([]string{"yield.words"}, c.want...), got[:len(got)-2], "beside the two on stops")
		})
	}
}

func TestNobodyToTellOf(t *testing.T) {
	s, none := units(t, "p"), Selection{} // no real runs
	empty := map[string]func() error{
		"yield":      func() error { _, err := AskYield(t.Context(), s, YieldAsked{Selection: none}); return err },
		"causes":     func() error { _, err := AskCauses(t.Context(), s, CausesAsked{Selection: none}); return err },
		"lots":       func() error { _, err := AskLots(t.Context(), s, LotsAsked{Selection: none}); return err },
		"shift":      func() error { _, err := AskShift(t.Context(), s, ShiftAsked{Selection: none}); return err },
		"capability": func() error { _, err := AskCapability(t.Context(), s, CapabilityAsked{Selection: none}); return err },
		"limits":     func() error { _, err := AskLimits(t.Context(), s, LimitsAsked{Selection: none}); return err },
		"distributions": func() error {
			_, err := AskDistributions(t.Context(), s, DistributionsAsked{Selection: none})
			return err
		},
		"compare": func() error {
			_, err := AskCompare(t.Context(), s, CompareAsked{Selection: all, By: lines.ByJig, A: answerstest.OtherJig, B: "J-9"})
			return err
		},
	}
	for name, ask := range empty {
		t.Run(name, func(t *testing.T) { assert.ErrorIs(t, ask(), lines.ErrNoUnits) })
	}
}

// Intervals of shares are exact ones where that is asked, and follow the confidence.
func TestSharesAsAsked(t *testing.T) {
	exact, err := interval.ClopperPearson(3, 20, 0.9)
	require.NoError(t, err)
	assert.Equal(t, Estimate{0.15, exact.Low, exact.High}, Selection{Confidence: 0.9, Exact: true}.Share(3, 20))
	wilson, err := interval.Wilson(3, 20, 0.9)
	require.NoError(t, err)
	assert.Equal(t, Estimate{0.15, wilson.Low, wilson.High}, Selection{Confidence: 0.9}.Share(3, 20))
	for _, e := range []Estimate{all.Share(0, 0), all.Share(3, 2)} {
		assert.True(t, math.IsNaN(e.Value) && math.IsNaN(e.Low) && math.IsNaN(e.High))
	}
}

// Where a rule would have halted the line, worked by hand.
func TestStopsOfALine(t *testing.T) {
	rule := StopRule{Window: 5, MinYield: 0.3, SameRun: 3}
	s := units(t, "pphhhpoh??"+"???p")
	y, err := AskYield(t.Context(), s, YieldAsked{Selection: all, Rule: rule})
	require.NoError(t, err)
	require.Len(t, y.Stops.Met, 3)
	type met struct {
		serial, finding string
		run, passed     int
	}
	var got []met
	for _, stop := range y.Stops.Met {
		got = append(got, met{stop.Unit.Serial, stop.Finding, stop.Run, stop.Passed})
	}
	// After a stop the count begins anew: p o h ? ? is a window with one passed. A fail
	// whose finding is not known is one all the same.
	assert.Equal(t, []met{{answerstest.Serial(4), "key high at 1", 3, 0}, {answerstest.Serial(9), "", 0, 1},
		{answerstest.Serial(12), "?", 3, 0}}, got)
	assert.Equal(t, Warn("stops.run", answerstest.Serial(4), started(4), 3, "key high at 1"),
		y.Stops.Met[0].Words(rule))
	assert.Equal(t, Warn("stops.yield", answerstest.Serial(9), started(9), 1, 5), y.Stops.Met[1].Words(rule))
	assert.Equal(t, Warn("stops.met", 3, 14), said(t, y.Conclusions, "stops.met"))
	by := rule.InShift(4.0/14, ShiftUnits)
	assert.Equal(t, by, y.Stops.False)
	assert.Equal(t, Say("stops.false", Percent{0.3, 0}, 5, 3, Percent{4.0 / 14, 1}, ShiftUnits, Chance(by.Any), Chance(by.Yield),
		Chance(by.SameRun)), said(t, y.Conclusions, "stops.false"))
}

func TestCausesOfADay(t *testing.T) {
	line := answerstest.Day(t)
	c, err := AskCauses(t.Context(), line.Store, CausesAsked{Selection: all})
	require.NoError(t, err)
	require.Len(t, c.Rows, 2)
	assert.Equal(t, [3]int{answerstest.DayUnits, 18, 2}, [3]int{c.Units, c.Failed, len(c.Rows)})
	for i, want := range []struct {
		name        string
		units, runs int
		soFar       float64
	}{{"key open", 12, 13, 12.0 / 18}, {"key high", 6, 7, 1}} {
		row := c.Rows[i]
		assert.Equal(t, lines.Cause{Name: want.name, Worst: want.units, Units: want.units, Runs: want.runs}, row.Cause)
		assert.Equal(t, shareOf(t, want.units, 18), row.OfFailed)
		assert.Equal(t, shareOf(t, want.units, answerstest.DayUnits), row.OfUnits)
		assert.InDelta(t, want.soFar, row.SoFar, 1e-12)
		count, err := interval.CountInterval(want.units, 0.95)
		require.NoError(t, err)
		assert.Equal(t, EstimateOf(float64(want.units), count), row.Count)
	}
	require.Len(t, c.Pad, 4)
	for i, hits := range []int{6, 0, 12, 0} {
		assert.Equal(t, hits, c.Pad[i].Findings, "key %s", c.Pad[i].Label)
		assert.Equal(t, shareOf(t, hits, answerstest.DayUnits), c.Pad[i].OfUnits)
	}

	// Both places against all others, each on its own jig.
	require.Equal(t, [2]int{4, 2}, [2]int{c.Compared, len(c.Places)}, "either place on either jig")
	open, high := c.Places[0], c.Places[1]
	assert.Equal(t, lines.PlaceOnJig{Name: "key open: key 3 (R2-C1)", Jig: answerstest.LocalJig, Hits: 12, Units: 120,
		OtherUnits: 120}, open.PlaceOnJig)
	var p []float64
	for _, hits := range []int{12, 6} {
		test, err := compare.Fisher(compare.Table2{{hits, 120 - hits}, {0, 120}}, 0.95)
		require.NoError(t, err)
		p = append(p, test.Greater)
	}
	holm := compare.Holm(append(p, 1, 1)) // and both on the other jig
	assert.Equal(t, [2]Chance{Chance(holm[0]), Chance(holm[1])}, [2]Chance{open.P, high.P})
	assert.True(t, open.Local && high.Local)
	assert.Equal(t, shareOf(t, 12, 120), open.Here)
	assert.Equal(t, shareOf(t, 0, 120), open.Elsewhere)
	assert.Equal(t, []Sentence{Say("causes.words", 18, answerstest.DayUnits), open.Words(), high.Words(),
		Say("places.words", LeastHits, 4)}, c.Conclusions)
	assert.Equal(t, Warn("places.local", open.Name, answerstest.LocalJig, 12, 120, 0, 120), open.Words())
}

func TestCausesOfAFewUnits(t *testing.T) {
	for name, c := range map[string]struct {
		units string
		asked CausesAsked
		want  []string
		rows  []string
		soFar bool
	}{
		"none failed": {"ppppp", CausesAsked{}, []string{"causes.none"}, nil, true},
		"no place":    {"hpppo", CausesAsked{}, []string{"causes.words"}, []string{"key high", "key open"}, true},
		"one jig": {"hhopo", CausesAsked{Hits: 2}, []string{"causes.words"},
			[]string{"key high", "key open"}, true},
		"by line": {"hpppo", CausesAsked{By: lines.CauseByLine}, []string{"causes.words", "causes.twice"},
			[]string{"C1", "R1", "R2"}, false},
		"by channel": {"hpppp", CausesAsked{By: lines.CauseByChannel}, []string{"causes.words", "causes.twice"}, nil, false},
		"by key":     {"hpppp", CausesAsked{By: lines.CauseByKey}, []string{"causes.words", "causes.nokey"}, []string{"1"}, false},
	} {
		t.Run(name, func(t *testing.T) {
			c.asked.Selection = all
			got, err := AskCauses(t.Context(), units(t, c.units), c.asked)
			require.NoError(t, err)
			assert.Equal(t, c.want, codesOf(got.Conclusions))
			var names []string
			for _, row := range got.Rows {
				names = append(names, row.Name)
				assert.Equal(t, c.soFar, !math.IsNaN(row.SoFar), row.Name)
			}
			if c.rows != nil {
				assert.ElementsMatch(t, c.rows, names)
			}
		})
	}
	c, err := AskCauses(t.Context(), units(t, "ppppp"), CausesAsked{Selection: all})
	require.NoError(t, err)
	assert.Equal(t, []Sentence{Say("causes.none", 5, Part(shareOf(t, 0, 5)))}, c.Conclusions)
}

// Of many places those that are one jig's own are never cut, however few their hits.
func TestPlacesOfOneJigAreShown(t *testing.T) {
	var list []results.Entry
	at := 0
	put := func(what, jig string) {
		run := answerstest.Failed(answerstest.Run(answerstest.Vents, answerstest.Serial(at), started(at), 60, 70, 80, 90), what, 0)
		run.Jig.Serial = jig
		list, at = append(list, answerstest.Of(answerstest.Vents, run)), at+1
	}
	for _, what := range []string{"a", "b", "c", "d", "e", "f", "g"} {
		for range 14 {
			put(what, answerstest.OtherJig)
			put(what, answerstest.LocalJig)
		}
	}
	for range 13 {
		put("own", answerstest.LocalJig)
	}
	c, err := AskCauses(t.Context(), answerstest.Store(t, list...), CausesAsked{Selection: all})
	require.NoError(t, err)
	assert.Equal(t, [2]int{16, 13}, [2]int{c.Compared, len(c.Places)}, "eight places on two jigs; twelve others are shown")
	last := c.Places[12]
	assert.Equal(t, [2]any{"own: key 1 (R1-C1)", true}, [2]any{last.Name, last.Local})
	assert.Contains(t, c.Conclusions, last.Words())
}

// Several products have no pad in common.
func TestCausesOfSeveralProducts(t *testing.T) {
	other := answerstest.Pad("VC-5", "A", answerstest.Keys...)
	s := answerstest.Store(t,
		answerstest.Of(answerstest.Vents, answerstest.Run(answerstest.Vents, "A", started(0), 60, 70, 80, 90)),
		answerstest.Of(other, answerstest.Failed(answerstest.Run(other, "B", started(1), 60, 70, 80, 90), "key high", 0)))
	c, err := AskCauses(t.Context(), s, CausesAsked{Selection: all})
	require.NoError(t, err)
	assert.Equal(t, []string{"VC-4", "VC-5"}, c.Mixed.Products)
	assert.Empty(t, c.Pad)
	assert.Equal(t, 1, c.Failed)
}

func TestLotsOfADay(t *testing.T) {
	line := answerstest.Day(t)
	l, err := AskLots(t.Context(), line.Store, LotsAsked{Selection: all, Key: "2"})
	require.NoError(t, err)
	require.Len(t, l.Rows, 2)
	for i, lot := range []string{answerstest.FirstLot, answerstest.SecondLot} {
		of := line.First(answerstest.By([]string{"Ines", "Ann"}[i])) // lots change with the shift
		assert.Equal(t, []string{lot}, l.Rows[i].Groups)
		assert.Equal(t, [2]int{len(of), answerstest.Passed(of)}, [2]int{l.Rows[i].Units, l.Rows[i].FirstPassed})
		read := answerstest.Contact(of, 1)
		assert.Equal(t, [2]any{lot, len(read)}, [2]any{l.Readings[i].Name, l.Readings[i].N})
		assert.InDelta(t, meanOf(read), l.Readings[i].Mean.Value, 1e-9)
		assert.Equal(t, [2]float64{0, 100}, l.Readings[i].Limits)
	}
	assert.Equal(t, []string{"yield.alike", "lots.words"}, codesOf(l.Conclusions))
	require.Len(t, l.Changes, 2, "on two jigs; those before the first run lie outside")
	for _, change := range l.Changes {
		assert.Equal(t, "13:59", change.At.Format("15:04"), "told in the zone of the shifts")
		assert.Contains(t, change.Text, answerstest.SecondLot)
	}

	l, err = AskLots(t.Context(), line.Store, LotsAsked{Selection: all, Newest: 1})
	require.NoError(t, err)
	assert.Equal(t, [2]int{2, 1}, [2]int{l.All, len(l.Rows)})
	assert.Equal(t, "1", l.Key, "the first key")
	assert.Equal(t, []string{answerstest.SecondLot}, l.Rows[0].Groups)
	assert.Equal(t, Warn("yield.newest", 1, 2), said(t, l.Conclusions, "yield.newest"))

	_, err = AskLots(t.Context(), line.Store, LotsAsked{Selection: all, Material: "foil"})
	assert.ErrorContains(t, err, `"foil" is no material: write membrane, dome, board, consumables`)
	l, err = AskLots(t.Context(), line.Store, LotsAsked{Selection: all, Key: "99"})
	require.NoError(t, err)
	missing := new(lines.MissingKeysError)
	require.ErrorAs(t, l.NoReadings, &missing)
	assert.Equal(t, []string{"99"}, missing.Missing)
	assert.Empty(t, l.Readings)
}

func meanOf(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}

func TestShiftsOfADay(t *testing.T) {
	line := answerstest.Day(t)
	newest, err := AskShift(t.Context(), line.Store, ShiftAsked{Selection: all})
	require.NoError(t, err)
	assert.Equal(t, [2]string{answerstest.LateShift, "2026-03-02"}, [2]string{newest.Name, newest.Day}, "that of the newest unit")

	require.NoError(t, line.Floor.SaveHandover(t.Context(), floor.Handover{Shift: answerstest.EarlyShift, Day: "2026-03-02",
		Simulated: true, By: "Ann", Note: "key 3 on J-0042"}))
	sh, err := AskShift(t.Context(), line.Store, ShiftAsked{Selection: all, Name: answerstest.EarlyShift, Day: "2026-03-02"})
	require.NoError(t, err)
	early := line.First(answerstest.By("Ines"))
	assert.Equal(t, [2]int{len(early), answerstest.Passed(early)}, [2]int{sh.Total.Units, sh.Total.FirstPassed})
	assert.True(t, sh.From.Equal(answerstest.Begin) && sh.To.Equal(answerstest.Begin.Add(8*time.Hour)))
	assert.Equal(t, "06:00", sh.From.Format("15:04"), "told in the zone of the shifts")
	require.Len(t, sh.Hours, 8)
	assert.Equal(t, []string{"06:00"}, sh.Hours[0].Groups)
	assert.Equal(t, 15, sh.Hours[0].Units)
	require.Len(t, sh.Causes.Rows, 2)
	assert.Equal(t, [2]int{6, 3}, [2]int{sh.Causes.Rows[0].Worst, sh.Causes.Rows[1].Worst})
	require.Len(t, sh.Open, 4, "three read high and one relapsed; the others were cured")
	relapsed := sh.Open[2]
	assert.Equal(t, [4]any{answerstest.Serial(50), answerstest.OtherJig, "key open: key 3 (R2-C1)", 2},
		[4]any{relapsed.Serial, relapsed.Jig, relapsed.Cause, relapsed.Runs})
	assert.True(t, relapsed.Failed.Equal(started(50).Add(time.Minute)), "not when it passed")
	require.Len(t, sh.Calibrations, 2)
	assert.Equal(t, care.StatusNever, sh.Calibrations[0].Verify.Status)
	require.Len(t, sh.Signed, 1)
	assert.Equal(t, Say("shift.is", answerstest.EarlyShift, sh.From, sh.To), sh.Conclusions[0])
	assert.Equal(t, Say("shift.opencount", 4), said(t, sh.Conclusions, "shift.opencount"))
	assert.NotContains(t, codesOf(sh.Conclusions), "handover.nobody")
	assert.Contains(t, codesOf(newest.Conclusions), "handover.nobody")

	assert.Empty(t, sh.Tags, "a simulated line puts its fails where they go")
	empty, err := AskShift(t.Context(), line.Store, ShiftAsked{Selection: all, Name: answerstest.EarlyShift, Day: "2026-03-05"})
	require.NoError(t, err, "a shift without a unit is an answer")
	assert.Equal(t, []string{"shift.is", "yield.nothing", "shift.opencount", "handover.nobody"}, codesOf(empty.Conclusions))
}

// Tags that are still open at the end of a shift, whichever it failed in, of the jigs and
// the product that are asked for.
func TestOpenTags(t *testing.T) {
	line := answerstest.Day(t)
	fail := func(serial, jig string, at time.Time) store.ID {
		run := answerstest.Failed(answerstest.Run(answerstest.Vents, serial, at, 640, 80, 80, 80), "key high", 0)
		run.Jig.Serial = jig
		id, err := line.Store.Runs.Save(t.Context(), answerstest.Vents, run)
		require.NoError(t, err)
		return id
	}
	fail("VC-900001", answerstest.LocalJig, answerstest.Begin.Add(time.Hour))
	placed := fail("VC-900002", answerstest.LocalJig, answerstest.Begin.Add(2*time.Hour))
	fail("VC-900003", answerstest.OtherJig, answerstest.Begin.Add(3*time.Hour))
	fail("VC-900004", answerstest.LocalJig, answerstest.Begin.Add(9*time.Hour))
	_, err := line.Store.Fails.Place(t.Context(), placed, fails.Place{}, "Ann")
	require.NoError(t, err)
	for _, c := range []struct {
		shift string
		jigs  []string
		tags  []string
	}{
		{answerstest.EarlyShift, nil, []string{"VC-900001", "VC-900003"}},
		{answerstest.LateShift, nil, []string{"VC-900001", "VC-900003", "VC-900004"}},
		{answerstest.EarlyShift, []string{answerstest.OtherJig}, []string{"VC-900003"}},
	} {
		asked := all
		asked.Filter.Jigs = c.jigs
		sh, err := AskShift(t.Context(), line.Store, ShiftAsked{Selection: asked, Name: c.shift, Day: "2026-03-02"})
		require.NoError(t, err)
		var tags []string
		for _, o := range sh.Tags {
			tags = append(tags, o.Serial)
		}
		assert.Equal(t, c.tags, tags)
		assert.Equal(t, Warn("shift.tags", len(tags)), said(t, sh.Conclusions, "shift.tags"))
		assert.Equal(t, sh.From.Location(), sh.Tags[0].Started.Location())
	}
}

func TestShiftsThatAreNone(t *testing.T) {
	s := answerstest.Store(t, results.Entry{At: started(0), Shifts: &answerstest.Shifts},
		answerstest.Of(answerstest.Vents, answerstest.Run(answerstest.Vents, "A", started(0), 60, 70, 80, 90)))
	at := all
	at.Filter.From = started(0)
	named := all
	named.Filter.Shifts = []string{"late"}
	day := new(NoDayError)
	for name, c := range map[string]struct {
		asked ShiftAsked
		is    error
		as    any
		says  string
	}{
		"no such shift": {ShiftAsked{Selection: all, Name: "noon", Day: "2026-03-02"}, ErrNoShift, nil, "there are early, late"},
		"no day": {ShiftAsked{Selection: all, Name: "early", Day: "monday"}, nil, &day,
			`"monday" is no day such as 2026-03-02`},
		"times of its own": {ShiftAsked{Selection: at}, ErrShiftTimes, nil, ""},
		"shifts besides":   {ShiftAsked{Selection: named}, ErrShiftTimes, nil, ""},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := AskShift(t.Context(), s, c.asked)
			if c.is != nil {
				require.ErrorIs(t, err, c.is)
			}
			if c.as != nil {
				require.ErrorAs(t, err, c.as)
			}
			assert.ErrorContains(t, err, c.says)
		})
	}
	_, err := AskShift(t.Context(), units(t, "p"), ShiftAsked{Selection: all})
	assert.ErrorIs(t, err, ErrNoShifts)
}

// A night shift belongs to the day on which it began, and what is overdue at its end is said.
func TestNightShiftAndWhatIsOverdue(t *testing.T) {
	night := floor.ShiftPlan{Zone: "Europe/Vienna", By: "Ines", Reason: "nights",
		Shifts: []floor.Shift{{Name: "day", Begins: 6 * 60, Ends: 22 * 60}, {Name: "night", Begins: 22 * 60, Ends: 6 * 60}}}
	at := time.Date(2026, 3, 3, 2, 0, 0, 0, time.UTC) // 03:00 in Vienna
	before := at.AddDate(0, 0, -10)
	calibration := &sequence.Calibration{Kind: sequence.KindVerify, Jig: sequence.JigName{Serial: answerstest.OtherJig},
		Simulated: true, Operator: "Ines", Performed: before, Interval: 24 * time.Hour, Box: "RB-1", BoxSerial: "RB-1-0007",
		Certificate: "DEMO-1", CertificateDue: before.AddDate(1, 0, 0), Good: true,
		Readings: []sequence.CalibrationReading{answerstest.Reading("A", 100, 100)}}
	s := answerstest.Store(t, results.Entry{At: before, Shifts: &night}, results.Entry{At: before, Calibration: calibration},
		answerstest.Of(answerstest.Vents, answerstest.Run(answerstest.Vents, "A", at, 60, 70, 80, 90)))
	sh, err := AskShift(t.Context(), s, ShiftAsked{Selection: all})
	require.NoError(t, err)
	assert.Equal(t, [2]string{"night", "2026-03-02"}, [2]string{sh.Name, sh.Day})
	assert.Equal(t, 1, sh.Total.Units)
	assert.Equal(t, Warn("shift.notgood", answerstest.OtherJig, Word("standing."+string(care.StatusOverdue))),
		said(t, sh.Conclusions, "shift.notgood"))
}

// Every stop is one of the rule: the package of statistics is asked with causes in a row.
func TestStopsLookAtTenWindows(t *testing.T) {
	letters := ""
	for range 24 {
		letters += "phppp"
	}
	y, err := AskYield(t.Context(), units(t, letters), YieldAsked{Selection: all, Rule: StopRule{Window: 11, MinYield: 0.1}})
	require.NoError(t, err)
	assert.Equal(t, 110, y.Stops.Units, "of 120: ten windows")
	assert.Equal(t, sampling.StopRule{Window: 11, MinYield: 0.1}.InShift(0.8, ShiftUnits), y.Stops.False)
}
