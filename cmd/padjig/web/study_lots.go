package web

import (
	"net/url"
	"slices"

	"padjig/results/answers"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// lotsPage shows what came of each lot of a material, and how a key reads in it.
var lotsPage = studyPage("/lots", "lots", func(s *study) error {
	material := s.param("material", floor.Materials[0])
	if !slices.Contains(floor.Materials, material) {
		return wrong(s.say("charts.unknown"))
	}
	keys, err := s.keys()
	if err != nil {
		return err
	}
	key := s.param("key", keys[0])
	s.Own = append(s.Own, s.one("material", material, floor.Materials...), s.named("key", key, keys))
	s.pooled("")
	l, err := answers.AskLots(s.ctx(), s.site.Store, answers.LotsAsked{Selection: s.about(), Material: material, Key: key})
	if err != nil {
		return err
	}
	f := s.yieldFigure("lots", []lines.Dimension{lines.Dimension(material)}, l.Rows,
		s.say("lots.yield", s.say("ask.material."+material)))
	for i, row := range l.Rows {
		if row.Groups[0] != "" {
			f.Table.Rows[i][0].Link = s.link("/quality/yield", url.Values{"lot": {row.Groups[0]}})
		}
	}
	f.Says = s.tell(l.Conclusions)
	s.add(f)
	if err := (lotsView{s}).lotReadings(l); err != nil {
		return err
	}
	title := s.say("lots.changes")
	t := s.tableOf(report.ChangeoverTable(l), title)
	t.Open = true
	s.add(figure{Title: title, Table: t, Says: says(s.say("lots.changes.words", len(t.Rows)))})
	return nil
})

// lotsView is the figures of the page of lots.
type lotsView struct{ *study }

// lotReadings shows the distribution of one key in each lot.
func (s lotsView) lotReadings(l answers.Lots) error {
	title := s.say("lots.readings", l.Key)
	if l.NoReadings != nil {
		text, known := s.why(l.NoReadings)
		if !known {
			return l.NoReadings
		}
		s.Notes = append(s.Notes, note{Text: title + ": " + text, Kind: "wrong"})
		return nil
	}
	c := chart.Spreads{Frame: s.frame("lotspread", title, s.say("spread.desc", len(l.Readings)), 1000, 0),
		X: chart.Axis{Label: s.say("axis.ohm"), Log: true}}
	for _, d := range l.Readings {
		c.Rows = append(c.Rows, report.Spread(d.Name, d.Quantiles, d.Limits, "n "+s.whole(d.N)))
	}
	if len(c.Rows) > 0 {
		s.add(figure{Title: title, Chart: c.SVG(), Table: s.tableOf(report.DistributionTable("readings", "lot",
			l.Readings), title)})
	}
	return nil
}
