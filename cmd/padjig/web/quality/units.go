package quality

import (
	"net/url"
	"strconv"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/report"
)

// unitsPage lists the units behind a point, a bar or a cell, each with the way to its runs.
func unitsPage(s *study) error {
	behind, err := units.Parse(s.form)
	if err != nil {
		return page.Wrong(err.Error())
	}
	q := units.UnitsAsked{Selection: s.about(), Behind: behind, Last: s.asked("last", answers.Last, 20, 20000)}
	s.chosenBehind(behind)
	s.offer(s.number("last", strconv.Itoa(q.Last)))
	u, err := units.AskUnits(s.ctx, s.store, q)
	if err != nil {
		return err
	}
	title := s.behind(behind)
	t := s.TableOf(report.UnitTable(u), title)
	for i, r := range u.Rows {
		t.Rows[i][0].Link = "/unit?serial=" + url.QueryEscape(r.Serial)
	}
	t.Open = true
	s.add(figure{Title: title, Says: tell(s.Words, u.Conclusions), Table: t})
	return nil
}

// chosenBehind puts what was chosen into the form, so that it stays and can be changed.
func (s *study) chosenBehind(b lines.Behind) {
	v := units.Values(b)
	verdict := s.one(units.Verdict, b.Verdict, "pass", "fail")
	verdict.Options = append([]page.Option{{Text: s.Say("ask.all"), Chosen: b.Verdict == ""}}, verdict.Options...)
	s.offer(verdict)
	if b.Last != 0 {
		s.offer(s.text(units.Runs, v.Get(units.Runs)))
	}
	if b.Cause != "" {
		s.offer(s.one(units.Cause, string(b.By), texts(lines.CauseDimensions)...), s.text(units.Is, b.Cause), s.one(units.Worst, bit(b.Worst), "0", "1"))
	}
	if b.Key != "" {
		s.offer(s.one(units.Measure, string(b.Measure), texts(keyMeasures)...), s.text(units.Key, b.Key), s.number(units.Low, v.Get(units.Low)),
			s.number(units.High, v.Get(units.High)))
	}
}

// keyMeasures are the readings that units are listed with.
var keyMeasures = []lines.Measure{lines.Contact, lines.Closing, lines.Opening, lines.Forward, lines.Reverse}

// behind says in words what was chosen.
func (s *study) behind(b lines.Behind) string {
	title := s.Say("units.title")
	if b.Last != 0 {
		title += s.Say("units.runs", b.First, b.Last)
	}
	if b.Cause != "" {
		title += s.Say("units.cause", s.Say("ask.cause."+string(b.By)), b.Cause)
	}
	if b.Key != "" {
		title += s.Say("units.reading", report.Measured(s.Lang, b.Measure), b.Key)
	}
	return title
}

// unitsBehind is the address of the units behind a part of a figure about the same runs.
func (s *study) unitsBehind(b lines.Behind) string { return s.link("/quality/units", units.Values(b)) }

// onDay is the address of the units of a day of the plant.
func (s *study) onDay(day string) string {
	v := s.filter.Values()
	v.Set("from", day)
	v.Set("to", day)
	return "/quality/units?" + v.Encode()
}

// among is the address of the units of one group, as far as a filter can tell it.
func (s *study) among(by lines.Dimension, group string, b lines.Behind) string {
	f := s.filter
	switch by {
	case lines.ByProduct:
		f.Product = group
	case lines.ByRevision:
		f.Revisions = []string{group}
	case lines.ByJig:
		f.Jigs = []string{group}
	case lines.ByShift:
		f.Shifts = []string{group}
	case lines.ByOperator:
		f.Operators = []string{group}
	case lines.ByMembrane, lines.ByDome, lines.ByBoard, lines.ByConsumables:
		f.Lots = []string{group}
	case lines.ByDay, lines.ByHour: // both of UTC
		from, err := time.Parse(map[lines.Dimension]string{lines.ByDay: time.DateOnly, lines.ByHour: "2006-01-02T15:04Z"}[by], group)
		if err != nil {
			return ""
		}
		f.From, f.To = from, from.Add(map[lines.Dimension]time.Duration{lines.ByDay: 24 * time.Hour, lines.ByHour: time.Hour}[by])
	default:
		return ""
	}
	if group == "" {
		return ""
	}
	v := f.Values()
	for name, values := range units.Values(b) {
		v[name] = values
	}
	return "/quality/units?" + v.Encode()
}
