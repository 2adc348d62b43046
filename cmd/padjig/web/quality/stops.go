package quality

import (
	"padjig/results/answers"
	"padjig/results/report"
)

// stopsPage lists where lines stopped themselves; also where nothing was tested since, or
// ever.
func stopsPage(s *study) error {
	if s.wrong != "" {
		return nil
	}
	l, err := answers.AskStops(s.ctx, s.store, answers.StopsAsked{Selection: s.about()})
	if err != nil {
		return err
	}
	s.Notes = append(s.Notes, tell(s.Words, l.Conclusions)...)
	s.listed(s.Say("title.stops"), report.LineStopTable(l.Rows))
	return nil
}

// listed shows a table, or that there is nothing to show.
func (s *study) listed(title string, t report.Table) {
	if len(t.Rows) > 0 {
		s.show(title, t, true)
		return
	}
	s.add(figure{Title: title, Says: says(s.Say("shift.nothing"))})
}
