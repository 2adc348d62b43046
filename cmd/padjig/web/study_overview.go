package web

import (
	"net/url"

	"padjig/results/answers"
	"padjig/results/lines"
)

// overviewPage is where the quality engineer looks first: every product with
// its yield, and what needs attention.
var overviewPage = withMenu(studyPage("", "overview", func(s *study) error {
	o, err := answers.AskOverview(s.ctx(), s.site.Store, answers.OverviewAsked{Selection: s.about()})
	if err != nil {
		return err
	}
	f := s.yieldFigure("products", []lines.Dimension{lines.ByProduct, lines.ByRevision}, o.Products,
		s.say("overview.products"))
	for i, row := range o.Products {
		f.Table.Rows[i][0].Link = s.link("/quality/yield", url.Values{"product": {row.Groups[0]}})
	}
	f.Says = s.tell(o.Conclusions[:len(o.Conclusions)-len(o.Attention)])
	s.add(f)
	s.days(o.Days)
	s.add(figure{Title: s.say("overview.attention"), Says: s.tell(o.Attention)})
	return nil
}), "menu.quality")

func withMenu(p page, key string) page {
	p.menu = key
	return p
}
