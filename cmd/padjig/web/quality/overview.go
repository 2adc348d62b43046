package quality

import (
	"net/url"

	"padjig/results/answers"
	"padjig/results/lines"
)

// overviewPage is where the quality engineer looks first: every product with
// its yield, and what needs attention.
func overviewPage(s *study) error {
	o, err := answers.AskOverview(s.ctx, s.store, answers.OverviewAsked{Selection: s.about()})
	if err != nil {
		return err
	}
	f := s.yieldFigure("products", []lines.Dimension{lines.ByProduct, lines.ByRevision}, o.Products,
		s.Say("overview.products"))
	for i, row := range o.Products {
		f.Table.Rows[i][0].Link = s.link("/quality/yield", url.Values{"product": {row.Groups[0]}})
	}
	f.Says = tell(s.Words, o.Conclusions[:len(o.Conclusions)-len(o.Attention)])
	s.add(f)
	s.days(o.Days)
	s.add(figure{Title: s.Say("overview.attention"), Says: tell(s.Words, o.Attention)})
	return nil
}
