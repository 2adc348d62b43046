package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"html/template"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/answers"
	"padjig/results/answers/answerstest"
	"padjig/results/answers/charts"
	"padjig/results/answers/gauge"
	"padjig/results/answers/overview"
	"padjig/results/answers/plans"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/report/chart"
	"padjig/results/stats/sampling"
	"padjig/results/studies"
)

// table gives a table of a document.
func table(t *testing.T, d Document, name string) Table {
	t.Helper()
	for _, one := range d.Tables {
		if one.Name == name {
			return one
		}
	}
	require.Fail(t, "no table", "%s in %s", name, d.Title)
	return Table{}
}

// cells gives a column of a table, from the top.
func cells(t *testing.T, d Document, name, column string) (out []any) {
	t.Helper()
	of := table(t, d, name)
	for i, c := range of.Columns {
		if c.Name == column {
			for _, row := range of.Rows {
				out = append(out, row[i])
			}
			return out
		}
	}
	require.Fail(t, "no column", "%s in %s", column, name)
	return nil
}

// written holds a document to what holds of all: each row has a cell for each column, the
// terminal has room for it, the CSV has all of its rows, and the page has its drawings.
func written(t *testing.T, d Document) (text string) {
	t.Helper()
	rows := 0
	for _, of := range d.Tables {
		for _, row := range of.Rows {
			require.Len(t, row, len(of.Columns), "%s of %s", of.Name, d.Title)
		}
		rows += 1 + len(of.Rows)
	}
	var b bytes.Buffer
	require.NoError(t, d.Text(&b, 80))
	text = b.String()
	for line := range strings.Lines(text) {
		assert.LessOrEqual(t, len([]rune(strings.TrimRight(line, "\n"))), 80, line)
	}
	assert.NotContains(t, text, "⟦", "every word has a text")
	b.Reset()
	require.NoError(t, d.CSV(&b))
	reader := csv.NewReader(&b)
	reader.FieldsPerRecord = -1
	list, err := reader.ReadAll()
	require.NoError(t, err)
	assert.Len(t, list, rows, d.Title)
	require.NoError(t, d.HTML(&b))
	drawings := 0
	for _, c := range d.Charts {
		if c.SVG != nil && c.SVG() != "" {
			drawings++
		}
	}
	assert.Equal(t, drawings, strings.Count(b.String(), "<svg"), d.Title)
	assert.True(t, IsPage(b.Bytes()))
	return text
}

// What stands in the documents of a day, against a count over its runs.
func TestDocumentsOfADay(t *testing.T) {
	line := answerstest.Day(t)
	all := answers.Selection{Filter: answerstest.Simulated}
	first := line.First(nil)
	units, passed := len(first), answerstest.Passed(first)
	ask := func(d Document, err error) Document {
		t.Helper()
		require.NoError(t, err)
		assert.True(t, d.Simulated)
		return d
	}
	said := func(n int) string { return Whole(n) + " of " + Whole(units) }

	d := ask(func() (Document, error) {
		a, err := answers.AskYield(t.Context(), line.Store, answers.YieldAsked{Selection: all, By: []lines.Dimension{lines.ByJig}})
		return Yield(a), err
	}())
	assert.Equal(t, []any{answerstest.OtherJig, answerstest.LocalJig}, cells(t, d, "yield", "jig")[:2])
	assert.Equal(t, []any{120, 120}, cells(t, d, "yield", "units")[:2])
	assert.Contains(t, written(t, d), said(passed))

	d = ask(func() (Document, error) {
		a, err := answers.AskCauses(t.Context(), line.Store, answers.CausesAsked{Selection: all})
		return Causes(a), err
	}())
	assert.Equal(t, []any{"key open", "key high"}, cells(t, d, "causes", "cause"))
	assert.Equal(t, []any{12, 6}, cells(t, d, "causes", "units"))
	assert.Equal(t, []any{6, 0, 12, 0}, cells(t, d, "keys", "findings"))
	written(t, d)

	d = ask(func() (Document, error) {
		a, err := overview.AskOverview(t.Context(), line.Store, overview.OverviewAsked{Selection: all})
		return Overview(a), err
	}())
	assert.Equal(t, []any{units}, cells(t, d, "days", "units"))
	written(t, d)

	d = ask(func() (Document, error) {
		a, err := answers.AskLots(t.Context(), line.Store, answers.LotsAsked{Selection: all})
		return Lots(a), err
	}())
	assert.Equal(t, []any{answerstest.FirstLot, answerstest.SecondLot}, cells(t, d, "lots", "membrane"))
	assert.Equal(t, []any{120, 120}, cells(t, d, "lots", "units"))
	assert.Len(t, table(t, d, "changes").Rows, 2)
	written(t, d)

	require.NoError(t, line.Floor.SaveHandover(t.Context(), floor.Handover{Shift: answerstest.EarlyShift, Day: "2026-03-02",
		Simulated: true, By: "Ann", Note: "key 3"}))
	d = ask(func() (Document, error) {
		a, err := answers.AskShift(t.Context(), line.Store, answers.ShiftAsked{Selection: all, Name: answerstest.EarlyShift,
			Day: "2026-03-02"})
		return Shift(a), err
	}())
	assert.Equal(t, []any{"Ann"}, cells(t, d, "signed", "by"))
	assert.Len(t, table(t, d, "open_units").Rows, 4)
	assert.Equal(t, []any{15, 15, 15, 15, 15, 15, 15, 15}, cells(t, d, "hours", "units"))
	assert.Equal(t, "2026-03-02 06:00 to 2026-03-02 14:00 CET", d.Selection)
	written(t, d)

	d = ask(func() (Document, error) {
		a, err := answers.AskDistributions(t.Context(), line.Store, answers.DistributionsAsked{Selection: all})
		return Distributions(a), err
	}())
	assert.Equal(t, []any{240, 240, 228, 240}, cells(t, d, "distributions", "n"))
	assert.Equal(t, []any{0, 0, 12, 0}, cells(t, d, "distributions", "over_range"))
	written(t, d)

	d = ask(func() (Document, error) {
		a, err := answers.AskCapability(t.Context(), line.Store, answers.CapabilityAsked{Selection: all})
		return Capability(a), err
	}())
	assert.Equal(t, []any{"1", "2", "3", "4"}, cells(t, d, "capability", "key"))
	assert.Equal(t, []any{6, 0, nil, 0}, cells(t, d, "capability", "outside"), "key 3 has no limits")
	written(t, d)

	d = ask(func() (Document, error) {
		a, err := answers.AskCompare(t.Context(), line.Store, answers.CompareAsked{Selection: all, By: lines.ByShift,
			A: answerstest.EarlyShift, B: answerstest.LateShift, Across: lines.ByJig})
		return Compared(a), err
	}())
	assert.Equal(t, []any{120, 120}, cells(t, d, "yield", "units"))
	assert.Equal(t, []any{120, 120, 114, 120}, cells(t, d, "compare", "n_a"))
	written(t, d)

	d = ask(func() (Document, error) {
		a, err := answers.AskLimits(t.Context(), line.Store, answers.LimitsAsked{Selection: all,
			Keys: answers.KeyChoice{Labels: []string{"1"}}, Side: answers.OnlyUpper,
			Proposed: &answers.Spec{Lower: math.Inf(-1), Upper: 260}})
		return Limits(a), err
	}())
	assert.Equal(t, []any{6, 6, 6, 6, 0, 0, 0, 0}, cells(t, d, "outcome", "rejected"), "250 ohm, which the new limit lets through")
	assert.Equal(t, [2]any{Word("limitset.in force"), Word("limitset.proposed")},
		[2]any{cells(t, d, "outcome", "limits")[3], cells(t, d, "outcome", "limits")[4]})
	assert.Len(t, table(t, d, "changes").Rows, 6)
	assert.Equal(t, Word("change.would be let through"), cells(t, d, "changes", "change")[0])
	written(t, d)

	for kind, want := range map[charts.ChartKind][2]int{charts.XbarS: {48, 48}, charts.IMR: {240, 239}, charts.P: {16, 0},
		charts.Cusum: {240, 240}} {
		d = ask(func() (Document, error) {
			a, err := charts.AskChart(t.Context(), line.Store, charts.ChartAsked{Selection: all, Kind: kind,
				Keys: answers.KeyChoice{Labels: []string{"2"}}})
			return Charted(a), err
		}())
		assert.Len(t, table(t, d, "points").Rows, want[0]+want[1], "%s", kind)
		text := written(t, d)
		assert.Contains(t, text, "┄", "limits are drawn")
		assert.Equal(t, strings.Contains(text, "◆"), len(table(t, d, "signals").Rows) > 0)
	}
}

// A chart of a few points, by hand: which mark stands where.
func TestPlotOfAFewPoints(t *testing.T) {
	at := func(v float64, signals ...string) charts.ChartPoint {
		return charts.ChartPoint{Value: v, Limits: answers.Limits{Lower: 0, Center: 6, Upper: 12}, Signals: signals}
	}
	p := charts.Panel{Code: "single"}
	for _, v := range []float64{6, 3, 9, 6, 6, 6, 6, 6, 6} {
		p.Points = append(p.Points, at(v))
	}
	p.Points = append(p.Points, at(12, "beyond-3"))
	text := strings.Split(textPlot(p, []charts.Event{{Mark: "a", Before: 2}, {Mark: "b", Before: 2}}, 40, "ohm", true), "\n")
	require.Len(t, text, 1+13+1+1)
	assert.Contains(t, text[0], ", ohm")
	of := func(y int) string { _, row, _ := strings.Cut(text[1+y], "┤"); return row }
	assert.Equal(t, "┄┄┄┄┄┄┄┄┄◆", of(0))
	assert.Equal(t, "  •", of(3))
	assert.Equal(t, "•──••••••─", of(6))
	assert.Equal(t, " •", of(9))
	assert.Equal(t, "┄┄┄┄┄┄┄┄┄┄", of(12))
	assert.Equal(t, "a", strings.TrimSpace(text[14]), "one mark in a place")
	from, to := span(charts.Panel{Points: []charts.ChartPoint{{Value: 5, Limits: answers.Limits{Lower: 5, Upper: 5}}}})
	assert.Equal(t, [2]float64{4, 6}, [2]float64{from, to})
}

func TestDocumentsOfPlans(t *testing.T) {
	a, err := plans.AskSampling(plans.SamplingAsked{Risks: plans.DefaultRisks, Plan: plans.Plan{N: 50, Accept: 1}, Lot: 500,
		Sequential: true, Shares: []float64{0, 0.02}})
	require.NoError(t, err)
	d := Sampling(a)
	assert.Equal(t, [2][]any{{50}, {1}}, [2][]any{cells(t, d, "plan", "sample"), cells(t, d, "plan", "accept")})
	assert.Equal(t, []any{0.0, 0.02}, cells(t, d, "curve", "bad"))
	written(t, d)
	assert.Equal(t, [2]any{nil, 0}, [2]any{countOrNothing(-1), countOrNothing(0)})

	r, err := plans.AskRetest(plans.RetestAsked{Errors: plans.TestErrors{FalseReject: 0.05, FalseAccept: 0.1}, Bad: 0.02,
		Current: sampling.TestOnce})
	require.NoError(t, err)
	d = Retest(r)
	assert.InDelta(t, 1e6*0.02*0.1, cells(t, d, "policies", "escapes_ppm")[0], 1e-6)
	written(t, d)
}

func TestDocumentsOfGauges(t *testing.T) {
	study := studies.Study{Number: 3, Product: "VC-4", Revision: "C", Across: studies.AcrossOperators, Parts: []string{"A", "B"},
		Appraisers: []string{"Ines", "Ann"}, Repeats: 2, Seed: 7, By: "Eve",
		Plan: []studies.Planned{{Part: 1}, {Appraiser: 1, Repeat: 1}}}
	d := GaugePlan(study, " --at here")
	assert.Equal(t, [][]any{{1, "B", "Ines", 1}, {2, "A", "Ann", 2}}, table(t, d, "order").Rows)
	text := strings.Join(strings.Fields(written(t, d)), " ")
	assert.Contains(t, text, "padjig quality gauge run 3 --product FILE --jig PORT --operator NAME --at here")
	assert.Contains(t, text, "2 parts by 2 operators, 2 repeats: 2 readings, order drawn with seed 7")

	d = GaugeList([]studies.Study{study})
	assert.Equal(t, []any{3, "VC-4", "C", "operators", 2, 2, 2, 0, 2}, table(t, d, "studies").Rows[0][:9])
	written(t, d)

	shown := gauge.KeyGauge{Key: "7", Mean: 60, RepeatSD: 1, GaugeSD: 2, PartSD: 5, OfTolerance: 0.2, Categories: 3,
		Sources:    []gauge.Source{{Code: "part", DF: 1, SS: 4, MS: 4, F: 2, P: 0.3}},
		Components: []gauge.GaugeComponent{{Code: "gauge", SD: Estimate{Value: 2, Low: 1, High: 3}}}}
	d = GaugeResult(gauge.Gauge{GaugeAsked: gauge.GaugeAsked{Study: study, Measure: lines.Contact}, Repeats: 2,
		Rows: []gauge.KeyGauge{shown}, Shown: shown,
		Agreement: []gauge.Agreement{{Units: 2, Agreed: 1, Kappa: answers.Unknown()}, {Who: "Ines", Units: 2, Agreed: 0.5}}})
	assert.Equal(t, []any{"all", "Ines"}, cells(t, d, "verdicts", "who"))
	for _, before := range []answers.Sentence{answers.Say("gauge.drawn"), answers.Warn("gauge.chosen")} {
		g := gauge.Gauge{GaugeAsked: gauge.GaugeAsked{Study: study, Measure: lines.Contact}, Rows: []gauge.KeyGauge{shown}, Shown: shown,
			Before: []answers.Sentence{before}, Conclusions: []answers.Sentence{before, answers.Say("gauge.caution")}}
		of := GaugeResult(g)
		var text bytes.Buffer
		require.NoError(t, of.Text(&text, 80))
		assert.Less(t, strings.Index(text.String(), strings.Fields(Told(terminal, before))[0]), strings.Index(text.String(), "of tolerance"), before.Code)
		assert.Equal(t, []string{Told(terminal, before)}, of.Object().Remarks)
		assert.Len(t, of.Object().Conclusion, 2)
	}
	assert.Equal(t, []any{2.0}, cells(t, d, "keys", "gauge_sd"))
	assert.Equal(t, []any{4.0}, cells(t, d, "anova", "ss"))
	written(t, d)

	d = GaugeLinearity(gauge.Linearity{LinearityAsked: gauge.LinearityAsked{Jig: "J-1"}, Readings: 2,
		Biases: []gauge.Bias{{Range: 500, Resistor: "A", Certified: 100, N: 2, Bias: Estimate{Value: 0.2}, OfValue: 0.002}},
		Lines:  []gauge.LinearityLine{{Range: 500, N: 2, Slope: answers.Unknown(), Why: errors.New("one resistor only")}}})
	assert.Equal(t, []any{0.002}, cells(t, d, "bias", "of_value"))
	assert.Equal(t, []any{"one resistor only"}, cells(t, d, "linearity", "why_not"))
	written(t, d)

	d = GaugeStability(gauge.Stability{StabilityAsked: gauge.StabilityAsked{Jig: "J-1", Unit: "REF-1", Measure: lines.Contact},
		Checks: 9, Rows: []gauge.KeyStability{{Key: "7", N: 9, Mean: 60, Outside: 1, Limited: true}, {Key: "8", Why: errors.New("none")}}})
	assert.Equal(t, []any{1, nil}, cells(t, d, "stability", "outside"))
	assert.Equal(t, []any{nil, "none"}, cells(t, d, "stability", "why_not"))
	written(t, d)
}

func TestExportAsCSVReadsBack(t *testing.T) {
	var b, other bytes.Buffer
	c, err := NewCSV(&b)
	require.NoError(t, err)
	require.NoError(t, c.Write(lines.ExportRow{Seq: 7, Serial: "=A", Attempt: 2, AtLeast: true, Closed: new(81.974),
		Started: time.UnixMicro(1772427600123456).UTC()}))
	require.NoError(t, c.Close())
	assert.True(t, IsCSV(b.Bytes()))
	assert.False(t, IsCSV([]byte("seq,serial\r\n")))
	rows, err := csv.NewReader(bytes.NewReader(b.Bytes())).ReadAll()
	require.NoError(t, err)
	got := map[string]string{}
	for i, name := range rows[0] {
		got[name] = rows[1][i]
	}
	for name, want := range map[string]string{"seq": "7", "serial": "'=A", "attempt": "2", "closed_ohm": "81.974",
		"closed_at_least": "true", "make_ms": ""} {
		assert.Equal(t, want, got[name], name)
	}
	p := NewParquet(&other)
	require.NoError(t, p.Write(lines.ExportRow{Seq: 7}))
	require.NoError(t, p.Close())
	assert.True(t, IsParquet(bytes.NewReader(other.Bytes()), int64(other.Len())))
	assert.False(t, IsParquet(bytes.NewReader(b.Bytes()), int64(b.Len())))
}

// What a reader must know first.
func TestRemarksOfASelection(t *testing.T) {
	at := time.Date(2026, 3, 2, 6, 30, 0, 0, time.UTC)
	d := about(answers.Selection{Filter: lines.Filter{From: at}}, "Yield", lines.Mixture{Products: []string{"A", "B"}})
	require.Len(t, d.Remarks, 2)
	assert.Contains(t, d.Remarks[0], "the numbers below pool them")
	assert.Contains(t, d.Remarks[1], "whole hours")
	assert.Empty(t, about(answers.Selection{Filter: lines.Filter{From: at.Truncate(time.Hour)}}, "", lines.Mixture{}).Remarks)
	assert.Equal(t, [3]string{", line R1", ", group vents", ""}, [3]string{keysText(terminal, answers.KeyChoice{Line: "R1"}),
		keysText(terminal, answers.KeyChoice{Group: "vents"}), keysText(terminal, answers.KeyChoice{})})
	assert.Equal(t, [4]int{0, 1, 2, 3}, [4]int{DigitsFor(1000), DigitsFor(-100), DigitsFor(10), DigitsFor(9.9)})
	assert.Equal(t, "1, 2, 3", cut([]string{"1", "2", "3"}))
	assert.Equal(t, "1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12 …", cut(strings.Fields("1 2 3 4 5 6 7 8 9 10 11 12 13")))
}

// What is to be looked at before an index stands before it on every surface: at a terminal of any
// width, in the page, in JSON and in the columns of a file.
func TestRemarksStandBeforeTheIndex(t *testing.T) {
	line := answerstest.Day(t)
	c, err := answers.AskCapability(t.Context(), line.Store, answers.CapabilityAsked{Selection: answers.Selection{Filter: answerstest.Simulated}})
	require.NoError(t, err)
	require.NotEmpty(t, c.Before, "jigs are mixed")
	d := Capability(c)
	var html, csv, object bytes.Buffer
	require.NoError(t, d.HTML(&html))
	require.NoError(t, d.Tables[0].CSV(&csv))
	encoder := json.NewEncoder(&object)
	encoder.SetEscapeHTML(false)
	require.NoError(t, encoder.Encode(d.Object()))
	before := func(surface, text, first, then string) {
		one, other := strings.Index(text, first), strings.Index(text, then)
		assert.True(t, 0 <= one && one < other, "%s: %q at %d, %q at %d", surface, first, one, then, other)
	}
	for _, said := range c.Before {
		words := strings.Fields(Told(terminal, said))[:4]
		for _, wide := range []int{60, 80, 200} {
			var text bytes.Buffer
			require.NoError(t, d.Text(&text, wide))
			before("terminal", text.String(), strings.Join(words, " "), "Ppk")
		}
		before("page", html.String(), template.HTMLEscapeString(strings.Join(words, " ")), "Ppk")
		before("JSON", object.String(), strings.Join(words, " "), `"ppk"`)
	}
	before("file", csv.String(), "remarks", "cpk")
	before("file", csv.String(), "cpk", "jigs mixed")
	assert.Equal(t, len(c.Conclusions), len(d.Object().Sentences), "by code all of them stand once")
}

// A key that every unit left open has no index: the document says so in words, and draws nothing.
func TestCapabilityOfAnOpenKey(t *testing.T) {
	run := answerstest.Failed(answerstest.Run(answerstest.Vents, answerstest.Serial(0), answerstest.Begin, 60, 70, 80, 90), "key open", 0)
	s := answerstest.Store(t, answerstest.Of(answerstest.Vents, run))
	c, err := answers.AskCapability(t.Context(), s, answers.CapabilityAsked{Selection: answers.Selection{Filter: answerstest.Simulated},
		Keys: answers.KeyChoice{Labels: []string{"1"}}})
	require.NoError(t, err)
	d := Capability(c)
	var text, html bytes.Buffer
	require.NoError(t, d.Text(&text, 80))
	require.NoError(t, d.HTML(&html))
	for _, surface := range []string{text.String(), html.String(), strings.Join(d.Object().Conclusion, "\n")} {
		assert.Contains(t, strings.Join(strings.Fields(surface), " "), "1 of 1 unit. No index takes them in")
	}
	assert.Equal(t, []any{1}, cells(t, d, "capability", "no_reading"))
	assert.NotPanics(t, func() { chart.Intervals{}.SVG() }, "as on the page")
}
