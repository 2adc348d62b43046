// Package overview is the question where to look first: four figures beside those of the
// time before, and what needs attention, each with the question that shows more of it.
package overview

import (
	"context"
	"math"
	"net/url"
	"slices"
	"strings"
	"time"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/stats/compare"
)

// OverviewAsked asks where to look first.
type OverviewAsked struct {
	answers.Selection
	Before *lines.Filter // the same runs of the time before; nil: nothing is compared
	Now    time.Time     // at which jigs are due; zero: now
}

// Overview is the answer.
type Overview struct {
	OverviewAsked
	Figures     []Figure
	Products    []answers.YieldRow // every product and revision of that time, chosen or not
	Total       answers.YieldRow
	Days        []answers.YieldRow // the newest
	Looks       []Look             // what needs attention
	Conclusions []answers.Sentence // of the figures, then of all looks
}

// Look is something that needs attention, and the question that shows more of it.
type Look struct {
	answers.Sentence
	Ask  string     // of [answers.Questions]; "jigs" are the jigs themselves
	With url.Values // chosen besides, by the parameters of a choice; an empty value opens a part
	Own  url.Values // and by those of the question's page
}

// Figure is a share, or a count, beside that of the time before.
type Figure struct {
	Name   string // "first", "units", "reseats", "open"
	X, N   int    // so many of so many; a count is X, and N is 0
	Share  answers.Estimate
	Was    Before
	Change Change
	P      answers.Chance // that both are of one line (Fisher); NaN where nothing is compared
	Trend  []Point
}

// Before is a figure of the time before.
type Before struct {
	X, N  int
	Share answers.Estimate
	When  answers.Sentence // before, and by which revision where it was another
}

// then is what the time before is called.
func (o *Overview) then() answers.Sentence {
	if o.Before == nil || len(o.Before.Revisions) == 0 || slices.Equal(o.Before.Revisions, o.Filter.Revisions) {
		return answers.Say("overview.then")
	}
	return answers.Say("overview.then.revision", strings.Join(o.Before.Revisions, ", "))
}

// Change is what became of a figure.
type Change string

// The changes. A difference is one beyond chance, as everywhere; counts have none.
const (
	Unknown Change = "none" // nothing to compare with
	Same    Change = "same"
	Better  Change = "better"
	Worse   Change = "worse"
	Counted Change = "counted"
)

// Point is a figure of a day, or of an hour where there are few days. Value is NaN where
// a group is too small to be drawn.
type Point struct {
	Name  string
	Value float64
	N     int
}

// figures are what is looked at first: how a share is counted, and which way is good.
var figures = []struct {
	name string
	of   func(lines.Counts) (x, n int)
	more bool // is better
}{
	{"first", func(c lines.Counts) (int, int) { return c.FirstPassed, c.Units }, true},
	{"units", func(c lines.Counts) (int, int) { return c.Units, 0 }, true},
	{"reseats", func(c lines.Counts) (int, int) { return c.Reseat, c.Runs }, false},
	{"open", func(c lines.Counts) (int, int) { return c.Units - c.LastPassed, c.Units }, false},
}

// AskOverview looks at everything.
func AskOverview(ctx context.Context, s *results.Store, a OverviewAsked) (Overview, error) {
	o := Overview{OverviewAsked: a}
	y, err := answers.AskYield(ctx, s, answers.YieldAsked{Selection: a.Selection})
	if err != nil {
		return o, err
	}
	o.Total = y.Total
	every := a.Selection
	every.Filter.Product, every.Filter.Revisions = "", nil
	all, err := answers.AskYield(ctx, s, answers.YieldAsked{Selection: every, By: []lines.Dimension{lines.ByProduct, lines.ByRevision}})
	if err != nil {
		return o, err
	}
	o.Products = all.Rows
	if o.Days, err = a.Days(ctx, s); err != nil {
		return o, err
	}
	if err := o.figures(ctx, s); err != nil {
		return o, err
	}
	if o.Looks, err = a.looks(ctx, s, y); err != nil {
		return o, err
	}
	for _, f := range o.Figures {
		o.Conclusions = append(o.Conclusions, f.Words())
	}
	for _, l := range o.Looks {
		o.Conclusions = append(o.Conclusions, l.Sentence)
	}
	return o, nil
}

// fewDays are told hour by hour.
const fewDays = 2

// figures counts, and compares with the time before.
func (o *Overview) figures(ctx context.Context, s *results.Store) error {
	points := o.Days
	if len(points) <= fewDays {
		hours, err := answers.AskYield(ctx, s, answers.YieldAsked{Selection: o.Selection, By: []lines.Dimension{lines.ByHour}})
		if err != nil {
			return err
		}
		points = hours.Rows
	}
	var was lines.Counts
	if o.Before != nil {
		y, err := s.Lines.Yields(ctx, *o.Before)
		if err != nil {
			return err
		}
		was = y.Total
	}
	for _, one := range figures {
		f := Figure{Name: one.name, P: answers.Chance(math.NaN()), Change: Unknown}
		f.X, f.N = one.of(o.Total.Counts)
		f.Was.X, f.Was.N = one.of(was)
		f.Share, f.Was.Share = o.Share(f.X, f.N), o.Share(f.Was.X, f.Was.N)
		f.Was.When = o.then()
		f.compare(o.Before != nil && was.Runs > 0, one.more, o.Alpha())
		for _, row := range points {
			p := Point{Name: row.Groups[0], Value: math.NaN()}
			x, n := one.of(row.Counts)
			switch p.N = n; {
			case f.N == 0:
				p.Value, p.N = float64(x), x
			case n >= answers.SmallGroup:
				p.Value = float64(x) / float64(n)
			}
			f.Trend = append(f.Trend, p)
		}
		o.Figures = append(o.Figures, f)
	}
	return nil
}

func (f *Figure) compare(known, more bool, alpha float64) {
	switch {
	case !known:
		return
	case f.N == 0:
		f.Change = Counted
		return
	}
	f.Change = Same
	p, err := compare.FisherTwoSided(compare.Table2{{f.X, f.N - f.X}, {f.Was.X, f.Was.N - f.Was.X}})
	if err != nil { // none of either, or all: nothing tells them apart
		return
	}
	if f.P = answers.Chance(p); p < alpha {
		f.Change = Worse
		if (f.Share.Value > f.Was.Share.Value) == more {
			f.Change = Better
		}
	}
}

// Words say a figure, and what became of it.
func (f Figure) Words() answers.Sentence {
	code := "overview." + f.Name
	if f.N == 0 {
		if f.Change == Unknown {
			return answers.Say(code, f.X)
		}
		return answers.Say(code+".counted", f.X, f.Changed())
	}
	args := []any{f.X, f.N, answers.Part(f.Share)}
	if f.Change != Unknown {
		code += ".was"
		args = append(args, f.Changed())
	}
	if f.Change == Worse {
		return answers.Warn(code, args...)
	}
	return answers.Say(code, args...)
}

// Changed says how a figure stands beside that of the time before.
func (f Figure) Changed() answers.Sentence {
	switch f.Change {
	case Unknown:
		return answers.Say("overview.before.none")
	case Counted:
		return answers.Say("overview.before.counted", f.Was.When, f.Was.X)
	case Same:
		return answers.Say("overview.before.same", f.Was.When, answers.Part(f.Was.Share), f.Was.N)
	case Worse:
		return answers.Warn("overview.before.worse", f.Was.When, answers.Part(f.Was.Share), f.Was.N, f.P)
	}
	return answers.Say("overview.before.better", f.Was.When, answers.Part(f.Was.Share), f.Was.N, f.P)
}
