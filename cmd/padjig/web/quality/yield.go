package quality

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// yieldPage groups first-pass and final yield by anything.
func yieldPage(s *study) error {
	by, err := lines.ParseDimension(s.param("by", string(lines.ByJig)))
	if err != nil {
		return page.Wrong(s.Told(err))
	}
	s.offer(s.one("by", string(by), texts(dimensions(s))...))
	var given given
	var target float64
	given.share(s, "target", &target)
	if given.err != nil {
		return given.err
	}
	s.target = answers.Target(target)
	s.pooled(by)
	y, err := answers.AskYield(s.ctx, s.store, answers.YieldAsked{Selection: s.about(), By: []lines.Dimension{by}, Target: s.target})
	if err != nil {
		return err
	}
	f := s.yieldFigure("yield", []lines.Dimension{by}, y.Rows, s.Say("yield.by", s.Say("ask.by."+string(by))))
	f.Says = seenFirst(tell(s.Words, y.Conclusions), "yield.words", "yield.target", "yield.alike", "yield.differ")
	s.add(f)
	days, err := s.about().Days(s.ctx, s.store)
	if err != nil {
		return err
	}
	drawDays(s, days)
	s.stops(y.Stops)
	return nil
}

// dimensions are what yields can be grouped by: stations only where there are several.
func dimensions(s *study) []lines.Dimension {
	if s.store.OfMany() {
		return lines.Dimensions
	}
	return slices.DeleteFunc(slices.Clone(lines.Dimensions), func(d lines.Dimension) bool { return d == lines.ByStation })
}

// mostRows is how many rows a chart of rows holds, the newest; the table has all.
const mostRows = 60

// pooled warns of what is counted together although it is judged differently.
func (s *study) pooled(by lines.Dimension) {
	switch {
	case by == lines.ByProduct:
	case len(s.mixed.Products) > 1:
		s.warn("mixed.products", strings.Join(s.mixed.Products, ", "))
	case len(s.mixed.Revisions) > 1 && by != lines.ByRevision:
		s.warn("mixed.revisions", revisions(s.mixed))
	}
}

// yieldFigure draws yields, one a row.
func (s *study) yieldFigure(name string, by []lines.Dimension, rows []answers.YieldRow, title string) figure {
	shown := slices.DeleteFunc(slices.Clone(rows[max(0, len(rows)-mostRows):]),
		func(row answers.YieldRow) bool { return row.Units == 0 })
	c := chart.Intervals{
		Frame: s.frame(name, title, s.Say("yield.desc", len(shown)), 1000, 0),
		X:     chart.Axis{Label: s.Say("yield.axis"), Most: 100},
	}
	c.Reference, c.ReferenceText = report.TargetLine(s.Lang, s.target)
	for _, row := range shown {
		one := yieldRow(s.Words, row)
		if len(by) == 1 {
			one.Link = unitsAmong(s, by[0], row.Groups[0], units.Everything())
		}
		c.Rows = append(c.Rows, one)
	}
	t := s.TableOf(report.YieldTable(name, by, rows), title)
	t.Open = true
	f := figure{Title: title, Table: t}
	if len(shown) > 0 {
		f.Chart = c.SVG()
	}
	return f
}

func yieldRow(s page.Words, row answers.YieldRow) chart.Interval {
	name := groupName(s, row.Groups)
	return chart.Interval{
		Name: name, Value: 100 * row.First.Value, Low: 100 * row.First.Low, High: 100 * row.First.High,
		Second: 100 * row.Final.Value, SecondLow: 100 * row.Final.Low, SecondHigh: 100 * row.Final.High,
		Text: "n " + report.Whole(row.Units), N: row.Units,
		Tip: name + "\n" + s.Say("yield.tip", report.Part(s.Lang, row.First), report.Part(s.Lang, row.Final)) + "\nn " + report.Whole(row.Units),
	}
}

func groupName(s page.Words, groups []string) string {
	return cmp.Or(strings.TrimSpace(strings.Join(groups, " ")), s.Say("study.none"))
}

// drawDays shows the yield of each day.
func drawDays(s *study, rows []answers.YieldRow) {
	title := s.Say("yield.days")
	curve := chart.Curve{Both: true, Name: s.Say("yield.first")}
	var before time.Time
	c := chart.Curves{
		Frame: s.frame("days", title, s.Say("yield.days.desc", len(rows)), 1180, 240),
		Y:     chart.Axis{Label: s.Say("axis.percent"), Most: 100}, X: chart.Axis{Label: s.Say("axis.day")}, Zoom: "days",
	}
	for i, row := range rows {
		day, x := row.Groups[0], 0.0
		at, err := time.Parse(time.DateOnly, day)
		if err != nil {
			continue
		}
		if i > 0 {
			x = curve.X[len(curve.X)-1] + at.Sub(before).Hours()/24
			if at.Sub(before) > 24*time.Hour { // nothing was tested in between
				curve.Add(chart.Gap(x-1), chart.Spot{}, 0)
			}
		}
		curve.Add(chart.Level{X: x, Y: 100 * row.First.Value, Low: 100 * row.First.Low, High: 100 * row.First.High},
			chart.Spot{Tip: day + "\n" + report.Part(s.Lang, row.First) + "\nn " + report.Whole(row.Units), Link: unitsOnDay(s, day), From: day, To: day}, row.Units)
		c.XNames, before = append(c.XNames, chart.Name{X: x, Text: day[5:]}), at
	}
	if at, name := report.TargetLine(s.Lang, s.target); name != "" {
		c.Across = []chart.Across{{X: math.NaN(), Y: at, Text: name, Kind: "centre"}}
	}
	c.Curves = []chart.Curve{curve}
	s.add(figure{Title: title, Chart: c.SVG(), Table: s.TableOf(report.YieldTable("days", []lines.Dimension{lines.ByDay},
		rows), title)})
}

// stops lists where the line would have been stopped.
func (s *study) stops(stops answers.Stops) {
	f := figure{Title: s.Say("stops.title")}
	for _, stop := range slices.Backward(stops.Met) {
		f.Says = append(f.Says, tell(s.Words, []answers.Sentence{stop.Words(stops.Rule)})...)
	}
	if len(stops.Met) == 0 {
		s.nothing = append(s.nothing, f.Title)
		return
	}
	f.Table = s.TableOf(report.StopTable(stops), f.Title)
	s.add(f)
}
