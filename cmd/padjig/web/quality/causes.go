package quality

import (
	"math"
	"slices"

	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// causesPage shows what failed, where on the pad, and whether it is the jig.
func causesPage(s *study) error {
	by := lines.CauseDimension(s.param("cause", string(answers.DefaultCause)))
	if !slices.Contains(lines.CauseDimensions, by) {
		by = answers.DefaultCause
	}
	s.offer(s.one("cause", string(by), texts(lines.CauseDimensions)...))
	s.pooled("")
	c, err := answers.AskCauses(s.ctx, s.store, answers.CausesAsked{Selection: s.about(), By: by})
	if err != nil {
		return err
	}
	f := drawPareto(s, c)
	f.Says = append(tell(s.Words, c.Conclusions), f.Says...)
	s.add(f)
	heat(s, c)
	jigPlaces(s, c)
	return nil
}

// drawPareto draws causes, most units first.
func drawPareto(s *study, c answers.Causes) figure {
	title := s.Say("causes.by", s.Say("ask.cause."+string(c.By)))
	bars := report.Pareto(s.Lang, c, mostBars)
	bars.Frame = s.frame("pareto", title, s.Say("causes.desc", len(c.Rows), c.Failed), 1000, 0)
	bars.X.Label = s.Say("causes.axis")
	for i, row := range c.Rows[:len(bars.Bars)] {
		bars.Bars[i].Link = unitsBehind(s, causing(c.By, row.Name, true))
	}
	f := figure{Title: title, Table: s.TableOf(report.CauseTable(c), title)}
	f.Table.Open = len(c.Rows) > 0
	if len(bars.Bars) > 0 {
		f.Chart = bars.SVG()
	}
	if len(c.Rows) > mostBars {
		f.Says = says(s.Say("causes.more", mostBars, len(c.Rows)))
	}
	return f
}

// causing are the units with a cause among their findings, or as their worst one.
func causing(by lines.CauseDimension, cause string, worst bool) lines.Behind {
	b := units.Everything()
	b.By, b.Cause, b.Worst = by, cause, worst
	return b
}

// mostBars is how many causes the chart shows; the table has all.
const mostBars = 15

// heat puts the findings on the pad's drawing.
func heat(s *study, c answers.Causes) {
	title := s.Say("heat.title")
	if len(c.Pad) == 0 {
		s.add(figure{Title: title, Says: says(s.Say("why.products", ""))})
		return
	}
	heat, most := report.CausesPad(c.Pad), 0
	for i, k := range c.Pad {
		most = max(most, k.Findings)
		heat.Keys[i].Now, heat.Keys[i].Tip = report.Whole(k.Findings), s.Say("heat.tip", k.Label, report.Whole(k.Findings), report.Whole(c.Units))
		if k.Findings > 0 {
			heat.Keys[i].Link = unitsBehind(s, causing(lines.CauseByKey, k.Label, false))
		}
	}
	heat.Title, heat.Desc, heat.Scale = title, s.Say("heat.desc"), [2]string{"0", s.Say("heat.most", report.Whole(most))}
	s.add(figure{Title: title, Chart: heat.Charts("heat", 700, narrow), Small: true, Table: s.TableOf(report.PadTable(c.Pad), title),
		Says: says(s.Say("heat.words", report.Whole(c.Units)))})
}

// jigPlaces shows the places on one jig beside the same on all others.
func jigPlaces(s *study, a answers.Causes) {
	title := s.Say("places.title")
	f := figure{Title: title, Small: true}
	c := chart.Intervals{Frame: s.frame("places", title, s.Say("places.desc"), 700, 0),
		X: chart.Axis{Label: s.Say("axis.ppm")}, Reference: math.NaN()}
	t := s.TableOf(report.PlaceTable(a.Places), title)
	for i, p := range a.Places {
		c.Rows = append(c.Rows, chart.Interval{Name: p.Jig + " · " + p.Name, Value: 1e6 * p.Here.Value,
			Low: 1e6 * p.Here.Low, High: 1e6 * p.Here.High,
			Second: 1e6 * p.Elsewhere.Value, SecondLow: 1e6 * p.Elsewhere.Low, SecondHigh: 1e6 * p.Elsewhere.High, Text: report.Whole(p.Hits), N: p.Units,
			Tip:  p.Jig + ", " + p.Name + "\n" + report.Part(s.Lang, p.Here) + "\n" + report.Whole(p.Hits) + ", n " + report.Whole(p.Units),
			Link: unitsAmong(s, lines.ByJig, p.Jig, causing(lines.CauseByPlace, p.Name, false))})
		t.Rows[i][0].Mark = p.Local
	}
	if len(c.Rows) > 0 {
		f.Chart, f.Table = c.SVG(), t
		s.add(f)
	}
}
