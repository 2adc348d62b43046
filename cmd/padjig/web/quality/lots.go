package quality

import (
	"net/url"
	"slices"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// lotsPage shows what came of each lot of a material, and how a key reads in it.
func lotsPage(s *study) error {
	material := s.param("material", floor.Materials[0])
	if !slices.Contains(floor.Materials, material) {
		return page.Wrong(s.Say("charts.unknown"))
	}
	keys, err := s.keys()
	if err != nil {
		return err
	}
	key := s.param("key", keys[0])
	s.offer(s.one("material", material, floor.Materials...), s.named("key", key, keys))
	s.pooled("")
	l, err := answers.AskLots(s.ctx, s.store, answers.LotsAsked{Selection: s.about(), Material: material, Key: key})
	if err != nil {
		return err
	}
	f := s.yieldFigure("lots", []lines.Dimension{lines.Dimension(material)}, l.Rows,
		s.Say("lots.yield", s.Say("ask.material."+material)))
	for i, row := range l.Rows {
		if row.Groups[0] != "" {
			f.Table.Rows[i][0].Link = s.link("/quality/yield", url.Values{"lot": {row.Groups[0]}})
		}
	}
	f.Says = tell(s.Words, l.Conclusions)
	s.add(f)
	if err := lotReadings(s, l); err != nil {
		return err
	}
	t := report.ChangeoverTable(l)
	s.show(s.Say("lots.changes"), t, true, says(s.Say("lots.changes.words", len(t.Rows)))...)
	return nil
}

// lotReadings shows the distribution of one key in each lot.
func lotReadings(s *study, l answers.Lots) error {
	title := s.Say("lots.readings", l.Key)
	if l.NoReadings != nil {
		text, known := why(s.Words, l.NoReadings)
		if !known {
			return l.NoReadings
		}
		s.Notes = append(s.Notes, note{Text: title + ": " + text, Kind: "wrong"})
		return nil
	}
	c := chart.Spreads{Frame: s.frame("lotspread", title, s.Say("distributions.desc", len(l.Readings)), 1000, 0),
		X: chart.Axis{Label: s.Say("axis.ohm"), Log: true}, Limits: report.LimitNames(s.Lang)}
	for _, d := range l.Readings {
		row := report.Spread(d.Name, d.Quantiles, d.Limits, "n "+report.Whole(d.N))
		row.N, row.Tip = d.N, d.Name+"\n"+s.Say("distributions.tip", s.Near(d.Quantiles.P5), s.Near(d.Quantiles.Median), s.Near(d.Quantiles.P95),
			s.Say("axis.ohm"))+"\nn "+report.Whole(d.N)
		of := units.Everything()
		of.Measure, of.Key = lines.Contact, l.Key
		row.Link = unitsAmong(s, lines.Dimension(l.Material), d.Name, of)
		c.Rows = append(c.Rows, row)
	}
	if len(c.Rows) > 0 {
		s.add(figure{Title: title, Chart: c.SVG(), Table: s.TableOf(report.DistributionTable("readings", "lot", lines.Contact,
			l.Readings), title)})
	}
	return nil
}
