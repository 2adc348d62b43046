package report

import (
	"fmt"
	"html/template"
	"math"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
)

// Side is one of the two that are compared.
type Side struct {
	Name string
	results.Counts
	Values map[string][]float64 // readings by key
}

// Comparison is two sides, with the same units cut into strata where another
// difference between them is to be taken out.
type Comparison struct {
	Asked
	By     results.By
	Sides  [2]Side
	Across results.By // what the strata are; empty for none
	Strata []stats.Table2
	Mixed  results.Mixture
	What   string // the reading
	Unit   string
	Keys   []string // in the product's order
}

// found is from which adjusted p on a difference is not called one.
const found = 0.05

// Compared reports how two sides differ: in yield, and in readings key by key.
func Compared(c Comparison, share Share) (Document, error) {
	for _, s := range c.Sides {
		if s.Units == 0 {
			return Document{}, fmt.Errorf("%w: %s %s; %s", results.ErrNoUnits, c.By, s.Name, c.Filter)
		}
	}
	d := c.document(fmt.Sprintf("%s %s against %s", c.By, c.Sides[0].Name, c.Sides[1].Name), c.Mixed)
	d.Tables = append(d.Tables, c.yieldTable(share))
	words, err := c.yieldWords()
	if err != nil {
		return d, err
	}
	d.Conclusion = append(d.Conclusion, words...)
	if len(c.Keys) == 0 {
		return d, nil
	}
	keys, rows := c.keys()
	d.Tables = append(d.Tables, keys)
	d.Conclusion = append(d.Conclusion, c.keyWords(rows))
	d.Charts = []Chart{{Title: "Differences by key", SVG: func() template.HTML { return c.drawn(rows) }}}
	return d, nil
}

func (c Comparison) yieldTable(share Share) Table {
	t := Table{Name: "yield", Title: fmt.Sprintf("First-pass yield, %s intervals", percent(c.Confidence)), Columns: []Column{
		{Name: string(c.By), Head: string(c.By)}, {Name: "units", Head: "units"}, {Name: "first_pass", Head: "first-pass", Unit: "%", Digits: 2},
		{Name: "final", Head: "final", Unit: "%", Digits: 2}}}
	for _, s := range c.Sides {
		t.Rows = append(t.Rows, []any{s.Name, s.Units, shareOf(share, s.FirstPassed, s.Units, c.Confidence), shareOf(share, s.LastPassed, s.Units, c.Confidence)})
	}
	return t
}

func (c Comparison) yieldWords() ([]string, error) {
	a, b := c.Sides[0], c.Sides[1]
	test, err := stats.Fisher(stats.Table2{{a.FirstPassed, a.Units - a.FirstPassed}, {b.FirstPassed, b.Units - b.FirstPassed}}, c.Confidence)
	if err != nil {
		if a.FirstPassed == a.Units && b.FirstPassed == b.Units {
			return []string{"Every unit passed on both sides: nothing tells the two yields apart."}, nil
		}
		if a.FirstPassed+b.FirstPassed == 0 {
			return []string{"No unit passed on either side: nothing tells the two yields apart."}, nil
		}
		return nil, err
	}
	difference, interval, err := stats.ShareDifference(a.FirstPassed, a.Units, b.FirstPassed, b.Units, c.Confidence)
	if err != nil {
		return nil, err
	}
	size := fmt.Sprintf("%+.2f percentage points (%+.2f to %+.2f, %s interval); Fisher exact %s", 100*difference, 100*interval.Low, 100*interval.High,
		percent(c.Confidence), pWords(test.P))
	words := []string{fmt.Sprintf("First-pass yields of %s and %s differ by more than chance: %s.", a.Name, b.Name, size)}
	if test.P >= found {
		words = []string{fmt.Sprintf("First-pass yields of %s and %s are not shown to differ: %s. That does not show that they are equal: any difference within the interval is possible.", a.Name, b.Name, size)}
	}
	if c.Across == "" {
		return append(words, "The comparison takes for granted that both had the same kind of units at the same kind of time; --across takes another difference out."), nil
	}
	return append(words, c.strataWords()), nil
}

func (c Comparison) strataWords() string {
	test, err := stats.CochranMantelHaenszel(c.Strata, c.Confidence)
	if err != nil {
		return fmt.Sprintf("Within each %s alone they cannot be compared: %v.", c.Across, err)
	}
	verdict := "are not shown to differ"
	if test.P < found {
		verdict = "differ by more than chance"
	}
	return fmt.Sprintf("Compared within each %s (%d of them, Mantel-Haenszel) they %s: odds of passing %.2f times as high for %s (%.2f to %.2f), %s.",
		c.Across, len(c.Strata), verdict, test.OddsRatio, c.Sides[0].Name, test.Odds.Low, test.Odds.High, pWords(test.P))
}

// keyRow is how the readings of one key differ.
type keyRow struct {
	key    string
	n      [2]int
	rank   stats.RankTest
	shape  stats.DistributionTest
	holm   float64
	bh     float64
	failed error
}

func (c Comparison) keys() (Table, []keyRow) {
	var rows []keyRow
	for _, key := range c.Keys {
		x, y := c.Sides[0].Values[key], c.Sides[1].Values[key]
		r := keyRow{key: key, n: [2]int{len(x), len(y)}}
		if r.rank, r.failed = stats.MannWhitney(x, y, c.Confidence); r.failed == nil {
			r.shape, r.failed = stats.KolmogorovSmirnov(x, y)
		}
		rows = append(rows, r)
	}
	adjust(rows)
	t := Table{Name: "keys", Title: c.What + ", key by key", Columns: []Column{{Name: "key", Head: "key"},
		{Name: "n_a", Head: "n " + c.Sides[0].Name}, {Name: "n_b", Head: "n " + c.Sides[1].Name},
		{Name: "shift", Head: "shift", Unit: c.Unit, Digits: 2}, {Name: "larger", Head: "larger", Unit: "%", Digits: 0, Minor: true},
		{Name: "rank_p", Head: "rank p", Minor: true}, {Name: "shape_p", Head: "shape p", Minor: true}, {Name: "holm_p", Head: "Holm p"}, {Name: "bh_p", Head: "BH p"}, {Name: "why_not", Head: "note", Minor: true}}}
	for _, r := range rows {
		if r.failed != nil {
			t.Rows = append(t.Rows, []any{r.key, r.n[0], r.n[1], nil, nil, nil, nil, nil, nil, r.failed.Error()})
			continue
		}
		t.Rows = append(t.Rows, []any{r.key, r.n[0], r.n[1], Estimate{r.rank.Shift, r.rank.Shifts.Low, r.rank.Shifts.High}, r.rank.Larger,
			Chance(r.rank.P), Chance(r.shape.P), Chance(r.holm), Chance(r.bh), ""})
	}
	return t, rows
}

// adjust corrects for looking at many keys with two tests each: the smaller
// of the two counts, doubled.
func adjust(rows []keyRow) {
	var p []float64
	for _, r := range rows {
		v := 1.0
		if r.failed == nil {
			v = min(1, 2*min(r.rank.P, r.shape.P))
		}
		p = append(p, v)
	}
	holm, bh := stats.Holm(p), stats.BenjaminiHochberg(p)
	for i := range rows {
		rows[i].holm, rows[i].bh = holm[i], bh[i]
	}
}

func (c Comparison) keyWords(rows []keyRow) string {
	differ, most := 0, -1
	for i, r := range rows {
		if r.failed != nil || r.holm >= found {
			continue
		}
		differ++
		if most < 0 || math.Abs(r.rank.Shift) > math.Abs(rows[most].rank.Shift) {
			most = i
		}
	}
	if differ == 0 {
		return fmt.Sprintf("Readings of none of %d keys are shown to differ (Mann-Whitney and Kolmogorov-Smirnov, adjusted for all keys after Holm). That does not show that they are equal: see the intervals of the shifts.", len(rows))
	}
	r := rows[most]
	return fmt.Sprintf("Readings of %d of %d keys differ by more than chance (Mann-Whitney and Kolmogorov-Smirnov, adjusted for all keys after Holm). Most at key %s: %s reads %+.2f %s (%+.2f to %+.2f) against %s. With many units even a shift that does not matter shows: hold it against the limits and the gauge's uncertainty.",
		differ, len(rows), r.key, c.Sides[0].Name, r.rank.Shift, c.Unit, r.rank.Shifts.Low, r.rank.Shifts.High, c.Sides[1].Name)
}

func (c Comparison) drawn(rows []keyRow) template.HTML {
	k := chart.Intervals{Frame: chart.Frame{ID: "shifts", Title: "Shift of " + c.Sides[0].Name + " against " + c.Sides[1].Name,
		Desc: "Shift of the readings of each key with its interval.", Width: 720}, X: chart.Axis{Label: c.Unit}, Reference: 0, ReferenceText: "no shift"}
	for _, r := range rows {
		if r.failed == nil {
			k.Rows = append(k.Rows, chart.Interval{Name: r.key, Value: r.rank.Shift, Low: r.rank.Shifts.Low, High: r.rank.Shifts.High,
				Second: math.NaN(), Text: "Holm " + pWords(r.holm)})
		}
	}
	return k.SVG()
}
