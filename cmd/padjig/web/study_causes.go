package web

import (
	"math"
	"slices"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// causesPage shows what failed, where on the pad, and whether it is the jig.
var causesPage = studyPage("/causes", "causes", func(s *study) error {
	by := lines.CauseBy(s.param("cause", string(answers.DefaultCause)))
	if !slices.Contains(lines.CauseBys, by) {
		by = answers.DefaultCause
	}
	names := make([]string, len(lines.CauseBys))
	for i, b := range lines.CauseBys {
		names[i] = string(b)
	}
	s.Own = append(s.Own, s.one("cause", string(by), names...))
	s.pooled("")
	c, err := answers.AskCauses(s.ctx(), s.site.Store, answers.CausesAsked{Selection: s.about(), By: by})
	if err != nil {
		return err
	}
	f := s.pareto(c)
	f.Says = append(s.tell(c.Conclusions), f.Says...)
	s.add(f)
	causesView{s}.heat(c)
	causesView{s}.jigPlaces(c)
	return nil
})

// pareto draws causes, most units first.
func (s *study) pareto(c answers.Causes) figure {
	title := s.say("causes.by", s.say("ask.cause."+string(c.By)))
	bars := chart.Bars{Frame: s.frame("pareto", title, s.say("causes.desc", len(c.Rows), c.Failed), 1000, 0),
		X: chart.Axis{Label: s.say("causes.axis")}}
	for _, row := range c.Rows[:min(mostBars, len(c.Rows))] {
		text := s.whole(row.Worst) + " · " + s.num(1, 100*row.OfFailed.Value) + " %"
		if !math.IsNaN(row.SoFar) {
			text += " · " + s.num(0, 100*row.SoFar) + " %"
		}
		bars.Bars = append(bars.Bars, chart.Bar{Name: row.Name, Value: float64(row.Worst), Low: row.Count.Low,
			High: row.Count.High,
			Text: text, Tip: row.Name + ": " + s.whole(row.Worst)})
	}
	f := figure{Title: title, Table: s.tableOf(report.CauseTable(c), title), Says: []note{}}
	f.Table.Open = len(c.Rows) > 0
	if len(bars.Bars) > 0 {
		f.Chart = bars.SVG()
	}
	if len(c.Rows) > mostBars {
		f.Says = says(s.say("causes.more", mostBars, len(c.Rows)))
	}
	return f
}

// mostBars is how many causes the chart shows; the table has all.
const mostBars = 15

// causesView is the figures of the page of causes.
type causesView struct{ *study }

// heat puts the findings on the pad's drawing.
func (s causesView) heat(c answers.Causes) {
	title := s.say("heat.title")
	if len(c.Pad) == 0 {
		s.add(figure{Title: title, Says: says(s.say("why.products", ""))})
		return
	}
	pad := chart.Pad{Frame: s.frame("heat", title, s.say("heat.desc"), 700, 0), Scale: [2]string{"0", ""}}
	most := 0
	for _, k := range c.Pad {
		most = max(most, k.Findings)
		pad.Keys = append(pad.Keys, chart.PadKey{Label: k.Label, X: k.X, Y: k.Y, W: k.W, H: k.H,
			Value: float64(k.Findings), Text: s.whole(k.Findings),
			Tip: s.say("heat.tip", k.Label, s.whole(k.Findings), s.whole(c.Units))})
	}
	pad.Scale[1] = s.say("heat.most", s.whole(most))
	s.add(figure{Title: title, Chart: pad.SVG(), Small: true, Table: s.tableOf(report.PadTable(c.Pad), title),
		Says: says(s.say("heat.words", s.whole(c.Units)))})
}

// jigPlaces shows the places on one jig beside the same on all others.
func (s causesView) jigPlaces(a answers.Causes) {
	title := s.say("places.title")
	f := figure{Title: title, Small: true, Says: []note{}}
	c := chart.Intervals{Frame: s.frame("places", title, s.say("places.desc"), 700, 0),
		X: chart.Axis{Label: s.say("axis.ppm")}, Reference: math.NaN()}
	t := s.tableOf(report.PlaceTable(a.Places), title)
	for i, p := range a.Places {
		c.Rows = append(c.Rows, chart.Interval{Name: p.Jig + " · " + p.Name, Value: 1e6 * p.Here.Value,
			Low: 1e6 * p.Here.Low, High: 1e6 * p.Here.High,
			Second: 1e6 * p.Elsewhere.Value, SecondLow: 1e6 * p.Elsewhere.Low, SecondHigh: 1e6 * p.Elsewhere.High, Text: s.whole(p.Hits)})
		t.Rows[i][0].Mark = p.Local
	}
	if len(c.Rows) > 0 {
		f.Chart, f.Table = c.SVG(), t
	}
	s.add(f)
}
