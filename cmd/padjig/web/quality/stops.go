package quality

import (
	"strconv"
	"strings"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/report"
	"padjig/results/stops"
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
	lifting(s, l.Rows)
	s.listed(s.Say("title.stops"), report.LineStopTable(l.Rows))
	s.none()
	return nil
}

// lifting offers to let those lines go on that stand still, as the lane does.
func lifting(s *study, rows []answers.LineStop) {
	f := figure{Title: s.Say("stops.lifting")}
	for _, row := range rows {
		if row.Lifted != nil {
			continue
		}
		number := strconv.FormatInt(row.Number, 10)
		reasons := ask{Name: "reason", Nth: number, Label: s.Say("stops.matter"), Kind: "one", Options: []page.Option{{Text: "–", Chosen: true}}}
		for _, r := range stops.Reasons() {
			reasons.Options = append(reasons.Options, page.Option{Value: string(r), Text: s.Say("stopreason." + string(r))})
		}
		f.Forms = append(f.Forms, signForm{Action: "/quality/stops/lift", Title: s.Say("stops.lift.title", row.Number),
			Explain: report.Say(s.Lang, row.Words()), Button: s.Say("stops.lift", row.Number),
			Asks:   []ask{reasons, {Name: "note", Nth: number, Label: s.Say("halt.note"), Kind: "text"}},
			Fields: []page.Option{{Value: "stop", Text: number}}})
	}
	if len(f.Forms) > 0 {
		s.add(f)
	}
}

// lift lets a line go on, and shows the stops again.
func (p *pages) lift(v *page.Visit) (page.Answer, error) {
	a, err := p.lanes.LiftAsked(v, p.store.Stops)
	if err == nil {
		a.Go = v.Address()
	}
	return a, err
}

// listed shows a table; where there is nothing to show, [study.none] says so.
func (s *study) listed(title string, t report.Table) {
	if len(t.Rows) > 0 {
		s.show(title, t, true)
		return
	}
	s.nothing = append(s.nothing, title)
}

// none says at the end of what there is nothing on record, in one place.
func (s *study) none() {
	if len(s.nothing) > 0 {
		s.add(figure{Title: s.Say("shift.nothing"), Says: says(strings.Join(s.nothing, " · "))})
	}
}
