package plant

import (
	"context"
	"math"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/stats/compare"
)

// CompareAsked asks whether any station, or any jig, yields another share than the others.
type CompareAsked struct {
	answers.Selection
	Jigs bool // jig by jig, else station by station
}

// Comparison is the yields side by side.
type Comparison struct {
	CompareAsked
	Rows        []Side
	Total       answers.YieldRow
	Mixed       lines.Mixture
	Differ      *answers.Homogeneity // of the rows; nil where there is nothing to compare
	Conclusions []answers.Sentence
}

// Side is one station, or one jig of it, against all others together.
type Side struct {
	answers.YieldRow                  // Groups: the station, and the jig
	Others           answers.Estimate // first-pass yield of all others
	Difference       answers.Estimate // its first-pass yield less theirs
	P                answers.Chance   // Fisher's exact test, not adjusted
	HolmP            answers.Chance   // adjusted for how many were looked at
	Differs          bool             // HolmP is below what is called a difference
	Small            bool             // too few units to say much
}

// AskCompare compares the yields.
func AskCompare(ctx context.Context, s *results.Store, a CompareAsked) (Comparison, error) {
	c := Comparison{CompareAsked: a}
	by := []lines.Dimension{lines.ByStation}
	if a.Jigs {
		by = append(by, lines.ByJig)
	}
	all, err := s.Lines.Yields(ctx, a.Filter, by...)
	if err != nil {
		return c, err
	}
	if c.Mixed = all.Mixed; all.Total.Units == 0 {
		return c, a.NoUnits()
	}
	c.Total = row(a.Selection, lines.Yield{Counts: all.Total})
	var rows []answers.YieldRow
	var p []float64
	for _, y := range all.Rows {
		one, err := c.side(row(a.Selection, y))
		if err != nil {
			return c, err
		}
		c.Rows, rows, p = append(c.Rows, one), append(rows, one.YieldRow), append(p, float64(one.P))
	}
	for i, adjusted := range compare.Holm(p) {
		c.Rows[i].HolmP = answers.Chance(adjusted)
		c.Rows[i].Differs = adjusted < a.Alpha()
	}
	c.Differ = answers.HomogeneityOf(rows)
	c.Conclusions = c.words()
	return c, nil
}

func row(s answers.Selection, y lines.Yield) answers.YieldRow {
	return answers.YieldRow{Yield: y, First: s.Share(y.FirstPassed, y.Units), Final: s.Share(y.LastPassed, y.Units)}
}

// yields are those of each station by its name.
func yields(ctx context.Context, s *results.Store, of answers.Selection) (out []answers.YieldRow, err error) {
	all, err := s.Lines.Yields(ctx, of.Filter, lines.ByStation)
	for _, y := range all.Rows {
		out = append(out, row(of, y))
	}
	return out, err
}

// side holds one against all others together.
func (c Comparison) side(y answers.YieldRow) (Side, error) {
	units, passed := c.Total.Units-y.Units, c.Total.FirstPassed-y.FirstPassed
	one := Side{YieldRow: y, Others: c.Share(passed, units), Difference: answers.Unknown(), P: answers.Chance(math.NaN()),
		HolmP: answers.Chance(math.NaN()), Small: y.Units < answers.SmallGroup}
	if y.Units == 0 || units == 0 {
		return one, nil
	}
	p, err := compare.FisherTwoSided(compare.Table2{{y.FirstPassed, y.Units - y.FirstPassed}, {passed, units - passed}})
	if err != nil {
		return one, err
	}
	difference, interval, err := compare.ShareDifference(y.FirstPassed, y.Units, passed, units, c.Level())
	one.P, one.Difference = answers.Chance(p), answers.EstimateOf(difference, interval)
	return one, err
}

func (c Comparison) words() (out []answers.Sentence) {
	var small answers.Names
	compared := 0
	for _, r := range c.Rows {
		if !math.IsNaN(float64(r.P)) {
			compared++
		}
		if r.Small {
			small = append(small, nameOf(r.Groups))
		}
	}
	what := "stations"
	if c.Jigs {
		what = "jigs"
	}
	if compared < 2 {
		return append(out, answers.Say("plant.compare.one."+what))
	}
	for _, r := range c.Rows {
		if r.Differs {
			code := "plant.compare.less"
			if r.Difference.Value > 0 {
				code = "plant.compare.more"
			}
			out = append(out, answers.Warn(code, nameOf(r.Groups), answers.Number{Value: math.Abs(100 * r.Difference.Value), Digits: 1},
				answers.Number{Value: 100 * r.Difference.Low, Digits: 1}, answers.Number{Value: 100 * r.Difference.High, Digits: 1}, r.HolmP))
		}
	}
	if len(out) == 0 {
		out = append(out, answers.Say("plant.compare.alike."+what, compared), answers.Say("plant.compare.absence"))
	} else {
		out = append(out, answers.Say("plant.compare.notshown"))
	}
	out = append(out, answers.Say("plant.compare.tests", compared))
	if len(small) > 0 {
		out = append(out, answers.Say("plant.compare.small", answers.SmallGroup, small))
	}
	return out
}

func nameOf(groups []string) string {
	name := groups[0]
	for _, more := range groups[1:] {
		name += " " + more
	}
	return name
}
