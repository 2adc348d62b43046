package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"padjig/results"
	"padjig/results/report/chart"
	"padjig/results/stats"
)

// Share is how an interval of a share is computed.
type Share func(x, n int, confidence float64) (stats.Interval, error)

// shareOf gives a share with its interval, nothing for none of none.
func shareOf(share Share, x, n int, confidence float64) any {
	i, err := share(x, n, confidence)
	if err != nil || n == 0 {
		return nil
	}
	return Estimate{float64(x) / float64(n), i.Low, i.High}
}

// Asked is what every document says of itself.
type Asked struct {
	Filter     results.Filter
	Confidence float64
}

func (a Asked) document(title string, mixed results.Mixture) Document {
	d := Document{Title: title, Selection: a.Filter.String(), Link: a.Filter.Values().Encode(), Simulated: a.Filter.Simulated}
	if mixed.Any() {
		d.Remarks = append(d.Remarks, mixed.String()+": the numbers below pool them")
	}
	if !whole(a.Filter) {
		d.Remarks = append(d.Remarks, "sums are kept by whole hours: the hours in which the time range begins and ends are taken in whole")
	}
	return d
}

// whole reports whether a time range begins and ends with an hour.
func whole(f results.Filter) bool {
	return (f.From.IsZero() || f.From.Minute()+f.From.Second() == 0) && (f.To.IsZero() || f.To.Minute()+f.To.Second() == 0)
}

// Yield reports first-pass and final yields. The error says so when there is nothing to report.
func Yield(a Asked, y results.Yields, by []results.By, share Share) (Document, error) {
	if y.Total.Units == 0 {
		return Document{}, fmt.Errorf("%w: %s", results.ErrNoUnits, a.Filter)
	}
	d := a.document("Yield", y.Mixed)
	d.Tables = []Table{yieldTable(a, y, by, share)}
	d.Charts = []Chart{{Title: "First-pass yield", SVG: func() template.HTML { return yieldChart(a, y, share) }}}
	d.Conclusion = append(d.Conclusion, totalWords(a, y.Total, share))
	if words := differWords(y); words != "" {
		d.Conclusion = append(d.Conclusion, words)
	}
	return d, nil
}

func yieldTable(a Asked, y results.Yields, by []results.By, share Share) Table {
	t := Table{Name: "yield", Title: fmt.Sprintf("First-pass and final yield, %s intervals", percent(a.Confidence))}
	for _, b := range by {
		t.Columns = append(t.Columns, Column{Name: string(b), Head: string(b)})
	}
	t.Columns = append(t.Columns, Column{Name: "units", Head: "units"},
		Column{Name: "first_pass", Head: "first-pass", Unit: "%", Digits: 2}, Column{Name: "final", Head: "final", Unit: "%", Digits: 2},
		Column{Name: "retests", Head: "retests", Minor: true}, Column{Name: "cures", Head: "cures", Minor: true}, Column{Name: "relapses", Head: "relapses", Minor: true},
		Column{Name: "reseat", Head: "reseat", Minor: true}, Column{Name: "incomplete", Head: "incomplete", Minor: true}, Column{Name: "aborted", Head: "aborted", Minor: true})
	for _, r := range y.Rows {
		var row []any
		for _, g := range r.Groups {
			row = append(row, named(g))
		}
		t.Rows = append(t.Rows, append(row, r.Units, shareOf(share, r.FirstPassed, r.Units, a.Confidence),
			shareOf(share, r.LastPassed, r.Units, a.Confidence), r.Retests, r.Cures, r.Relapses, r.Reseat, r.Incomplete, r.Aborted))
	}
	return t
}

// named says that something has no name.
func named(group string) string {
	if group == "" {
		return "(none)"
	}
	return group
}

func percent(share float64) string { return fmt.Sprintf("%.4g %%", 100*share) }

func totalWords(a Asked, c results.Counts, share Share) string {
	first, _ := share(c.FirstPassed, c.Units, a.Confidence)
	last, _ := share(c.LastPassed, c.Units, a.Confidence)
	n := float64(c.Units)
	words := fmt.Sprintf("%d of %d units passed when they were judged first: %.2f %% (%.2f to %.2f %%, %s interval); after retests %.2f %% (%.2f to %.2f %%).",
		c.FirstPassed, c.Units, 100*float64(c.FirstPassed)/n, 100*first.Low, 100*first.High, percent(a.Confidence),
		100*float64(c.LastPassed)/n, 100*last.Low, 100*last.High)
	switch {
	case c.Units == 1:
		words += " One unit says next to nothing: see how wide the interval is."
	case c.FirstPassed == c.Units:
		words += " None failed, which does not mean that none can: the interval says how many still may."
	case c.FirstPassed == 0:
		words += " None passed: look at the jig and its reference unit before blaming the units."
	}
	if c.Retests > 0 {
		words += fmt.Sprintf(" %d retests cured %d units: a cure says that unit or jig is unsteady, not that the unit was good.", c.Retests, c.Cures)
	}
	return words
}

// differWords compares the groups all at once, where there is something to compare.
func differWords(y results.Yields) string {
	var counts [][]int
	for _, r := range y.Rows {
		if r.Units > 0 {
			counts = append(counts, []int{r.FirstPassed, r.Units - r.FirstPassed})
		}
	}
	if len(counts) < 2 || len(counts) > 200 {
		return ""
	}
	test, err := stats.ChiSquare(counts)
	if err != nil || test.LeastExpected < 1 {
		return "Too few units or failures in some groups to say whether the groups differ."
	}
	words := fmt.Sprintf("First-pass yields of the %d groups differ no more than chance alone would make them (chi-square %.1f, %d degrees of freedom, %s): do not rank them.",
		len(counts), test.Statistic, test.DF, pWords(test.P))
	if test.P < 0.05 {
		words = fmt.Sprintf("First-pass yields of the %d groups differ by more than chance alone would make them (chi-square %.1f, %d degrees of freedom, %s). This does not say which group, nor why: see padjig quality compare.",
			len(counts), test.Statistic, test.DF, pWords(test.P))
	}
	if test.LeastExpected < 5 {
		words += " Some groups have few failures, so take p as rough."
	}
	return words
}

func pWords(p float64) string {
	if p < 0.0001 {
		return "p < 0.0001"
	}
	return "p = " + probability(p)
}

func probability(p float64) string {
	if p < 0.0001 {
		return "< 0.0001"
	}
	return fmt.Sprintf("%.4f", p)
}

func yieldChart(a Asked, y results.Yields, share Share) template.HTML {
	c := chart.Intervals{Frame: chart.Frame{ID: "yield", Title: "First-pass yield", Desc: "First-pass yield of each group with its interval.", Width: 720}, Reference: math.NaN(),
		X: chart.Axis{Label: "first-pass yield, %"}}
	for _, r := range y.Rows {
		if e, ok := shareOf(share, r.FirstPassed, r.Units, a.Confidence).(Estimate); ok {
			c.Rows = append(c.Rows, chart.Interval{Name: named(strings.Join(r.Groups, " ")), Value: 100 * e.Value, Second: math.NaN(),
				Low: 100 * e.Low, High: 100 * e.High, Text: fmt.Sprintf("%.1f %% of %d", 100*e.Value, r.Units)})
		}
	}
	return c.SVG()
}

// Stopped reports where stop rules would have halted the line.
func Stopped(a Asked, last []results.Judged, rule stats.StopRule) Table {
	var causes []string
	for _, j := range last {
		cause, _, _ := strings.Cut(j.Cause, ": ")
		causes = append(causes, cause)
	}
	t := Table{Name: "stops", Title: fmt.Sprintf("Stops over the last %d units", len(last)),
		Columns: []Column{{Name: "serial", Head: "after unit"}, {Name: "run", Head: "run"}, {Name: "started", Head: "tested"}, {Name: "reason", Head: "reason"}},
		Empty:   "the stop rule was met nowhere"}
	for _, s := range rule.Stops(causes) {
		reason := fmt.Sprintf("%d of %d passed", s.Passed, s.Window)
		if s.Reason != "" {
			reason = fmt.Sprintf("%d in a row: %s", s.Run, s.Reason)
		}
		j := last[s.At]
		t.Rows = append(t.Rows, []any{j.Serial, int(j.Seq), j.Started, reason})
	}
	return t
}
