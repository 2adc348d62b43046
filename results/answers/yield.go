package answers

import (
	"context"
	"slices"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/stats/compare"
)

// YieldAsked asks how many pass: first, and in the end.
type YieldAsked struct {
	Selection
	By     []lines.Dimension
	Rule   StopRule // zero: [DefaultRule]
	Target Target
}

// Yield is what came of the units of a selection.
type Yield struct {
	YieldAsked
	Rows        []YieldRow
	Total       YieldRow
	Mixed       lines.Mixture
	Differ      *Homogeneity // of the rows; nil where there is nothing to compare
	Stops       Stops
	Conclusions []Sentence
}

// YieldRow is one group of units.
type YieldRow struct {
	lines.Yield
	First, Final Estimate
}

// Homogeneity is whether groups differ by more than chance (chi-square).
type Homogeneity struct {
	Groups    int
	Statistic float64
	DF        int
	P         Chance
	Rough     bool // an expected count is below 5
}

// AskYield counts the units of a selection.
func AskYield(ctx context.Context, s *results.Store, a YieldAsked) (Yield, error) {
	if err := a.Target.Check(); err != nil {
		return Yield{YieldAsked: a}, err
	}
	y, err := a.yields(ctx, s, a.By...)
	if err != nil {
		return y, err
	}
	y.Target = a.Target
	if y.Total.Units == 0 {
		return y, a.NoUnits()
	}
	loosened, err := a.loosened(ctx, s, a.By)
	if err != nil {
		return y, err
	}
	y.Conclusions = slices.Concat(totalWords(y.Total), a.Target.words(y.Total, y.Rows), loosened, y.differWords(a.Alpha()))
	if y.Stops, err = a.stops(ctx, s, a.Rule, 0, y.Total.First.Value); err != nil {
		return y, err
	}
	y.Conclusions = append(y.Conclusions, y.Stops.words()...)
	return y, nil
}

// loosened says where units before and after a release that lets more through are taken
// together, and what each revision yields by itself.
func (s Selection) loosened(ctx context.Context, store *results.Store, by []lines.Dimension) (out []Sentence, err error) {
	if slices.Contains(by, lines.ByRevision) {
		return nil, nil
	}
	events, err := store.Lines.Events(ctx, s.Filter, lines.Loosened)
	for _, e := range events {
		out = append(out, Warn("yield.loosened", e.Text, e.At))
	}
	if err != nil || len(out) == 0 {
		return out, err
	}
	each, err := s.yields(ctx, store, lines.ByRevision)
	for _, row := range each.Rows {
		out = append(out, Say("yield.revision", row.Groups[0], row.FirstPassed, row.Units, Part(row.First)))
	}
	return out, err
}

// mostDays is how many days are told apart, the newest.
const mostDays = 92

// Days tells yields apart by day, the newest ones.
func (s Selection) Days(ctx context.Context, store *results.Store) ([]YieldRow, error) {
	y, err := s.yields(ctx, store, lines.ByDay)
	return y.Rows[max(0, len(y.Rows)-mostDays):], err
}

// yields counts without concluding.
func (s Selection) yields(ctx context.Context, store *results.Store, by ...lines.Dimension) (Yield, error) {
	y := Yield{YieldAsked: YieldAsked{Selection: s, By: by}}
	all, err := store.Lines.Yields(ctx, s.Filter, by...)
	if err != nil {
		return y, err
	}
	y.Mixed = all.Mixed
	for _, row := range all.Rows {
		y.Rows = append(y.Rows, s.yieldRow(row))
	}
	y.Total = s.yieldRow(lines.Yield{Counts: all.Total})
	y.Differ = HomogeneityOf(y.Rows)
	return y, nil
}

func (s Selection) yieldRow(y lines.Yield) YieldRow {
	return YieldRow{y, s.Share(y.FirstPassed, y.Units), s.Share(y.LastPassed, y.Units)}
}

// mostGroups are compared at once: the verdict on more says nothing about any.
const mostGroups = 200

// HomogeneityOf tests whether rows differ; nil where there is nothing to compare.
func HomogeneityOf(rows []YieldRow) *Homogeneity {
	var counts [][]int
	for _, r := range rows {
		if r.Units > 0 {
			counts = append(counts, []int{r.FirstPassed, r.Units - r.FirstPassed})
		}
	}
	if len(counts) < 2 || len(counts) > mostGroups {
		return nil
	}
	test, err := compare.ChiSquare(counts)
	if err != nil || test.LeastExpected < 1 {
		return &Homogeneity{Groups: len(counts), P: Chance(Unknown().Value)}
	}
	return &Homogeneity{len(counts), test.Statistic, test.DF, Chance(test.P), test.LeastExpected < 5}
}

func totalWords(t YieldRow) []Sentence {
	out := []Sentence{Say("yield.words", t.FirstPassed, t.Units, Part(t.First), Part(t.Final))}
	switch {
	case t.Units == 1:
		out = append(out, Say("yield.one"))
	case t.FirstPassed == t.Units:
		out = append(out, Say("yield.allpassed"))
	case t.FirstPassed == 0:
		out = append(out, Warn("yield.nonepassed"))
	}
	if t.Retests > 0 {
		out = append(out, Say("yield.retests", t.Retests, t.Cures, t.Relapses))
	}
	return out
}

func (y Yield) differWords(alpha float64) []Sentence {
	d := y.Differ
	switch {
	case d == nil:
		return nil
	case d.P != d.P: // no number: too few
		return []Sentence{Say("yield.toofew")}
	}
	code := "yield.alike"
	if float64(d.P) < alpha {
		code = "yield.differ"
	}
	out := []Sentence{Say(code, d.Groups, Number{d.Statistic, 1}, d.DF, d.P)}
	if d.Rough {
		out = append(out, Say("yield.rough"))
	}
	return out
}
