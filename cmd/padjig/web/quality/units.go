package quality

import (
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/answers/choice"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/report"
)

// unitsPage lists the units behind a point, a bar or a cell, each with the way to its runs.
func unitsPage(s *study) error {
	behind, err := units.Parse(s.form)
	if err != nil {
		if span, is := errors.AsType[*units.SpanError](err); is {
			return page.Wrong(s.Say("units.span", span.Text))
		}
		return page.Wrong(s.Told(err))
	}
	q := units.UnitsAsked{Selection: s.about(), Behind: behind, Last: s.asked("last", answers.Last, 20, 20000)}
	chosenBehind(s, behind)
	s.offer(s.number("last", strconv.Itoa(q.Last)))
	u, err := units.AskUnits(s.ctx, s.store, q)
	if err != nil {
		return err
	}
	title := titleBehind(s, behind)
	t := s.TableOf(report.UnitTable(u), title)
	for i, r := range u.Rows { // each leads to the run that is meant, among all of its unit
		t.Rows[i][0].Link = fmt.Sprintf("/unit?serial=%s#run-%d", url.QueryEscape(r.Serial), r.Seq)
	}
	t.Open = true
	s.add(figure{Title: title, Says: tell(s.Words, u.Conclusions), Table: t})
	return nil
}

// chosenBehind puts what was chosen into the form, so that it stays and can be changed.
func chosenBehind(s *study, b lines.Behind) {
	v := units.Values(b)
	verdict := s.one(units.Verdict, b.Verdict, "pass", "fail")
	verdict.Options = append([]page.Option{{Text: s.Say("ask.verdict.all"), Chosen: b.Verdict == ""}}, verdict.Options...)
	s.offer(verdict)
	if b.Last != 0 {
		s.offer(s.text(units.Runs, v.Get(units.Runs)))
	}
	if b.Cause != "" {
		s.offer(s.one(units.Cause, string(b.By), texts(lines.CauseDimensions)...), s.text(units.Is, b.Cause), s.one(units.Worst, bit(b.Worst), "0", "1"))
	}
	if b.Pin != 0 {
		s.offer(s.number(units.Pin, v.Get(units.Pin)), s.text(units.On, b.On))
		if b.Until != 0 {
			s.offer(s.text(units.Among, v.Get(units.Among)))
		}
	}
	if b.Key != "" {
		s.offer(s.one(units.Measure, string(b.Measure), texts(keyMeasures)...), s.text(units.Key, b.Key), s.number(units.Low, v.Get(units.Low)),
			s.number(units.High, v.Get(units.High)))
	}
}

// keyMeasures are the readings that units are listed with.
var keyMeasures = []lines.Measure{lines.Contact, lines.Closing, lines.Opening, lines.Forward, lines.Reverse}

// titleBehind says in words what was chosen.
func titleBehind(s *study, b lines.Behind) string {
	title := s.Say("units.title")
	if b.Last != 0 {
		title += s.Say("units.runs", b.First, b.Last)
	}
	if b.Cause != "" {
		title += s.Say("units.cause", s.Say("ask.cause."+string(b.By)), b.Cause)
	}
	if b.Pin != 0 {
		title += s.Say("units.pin", b.Pin, b.On)
	}
	if b.Key != "" {
		title += s.Say("units.reading", report.Measured(s.Lang, b.Measure), b.Key)
	}
	return title
}

// unitsBehind is the address of the units behind a part of a figure about the same runs.
func unitsBehind(s *study, b lines.Behind) string { return s.unitsLink(units.Values(b)) }

// unitsLink is that of the page of units, with the times of a page that has its own: a
// shift is not what the other pages are about. What the page leaves open stays open there.
func (s *study) unitsLink(v url.Values) string {
	said := s.chosen.Said
	for name, chosen := range map[string]bool{"product": said.Filter.Product != "", "revision": len(said.Filter.Revisions) > 0} {
		if !chosen && !v.Has(name) {
			v[name] = []string{choice.All}
		}
	}
	if !s.hours.from.IsZero() && !v.Has("from") {
		v[choice.Since], v["from"], v["to"] = nil, []string{s.hours.from.Format(time.RFC3339)}, []string{s.hours.to.Format(time.RFC3339)}
	}
	if s.hours.shift != "" {
		v["shift"] = []string{s.hours.shift}
	}
	return s.link("/quality/units", v)
}

// hours are the times of a page that has its own.
type hours struct {
	from, to time.Time
	shift    string
}

// unitsOnDay is the address of the units of a day of the plant.
func unitsOnDay(s *study, day string) string { return unitsBetween(s, day, day, units.Everything()) }

// unitsBetween is that of the units of a time.
func unitsBetween(s *study, from, to string, b lines.Behind) string {
	v := units.Values(b)
	v[choice.Since], v["from"], v["to"] = nil, []string{from}, []string{to}
	return s.unitsLink(v)
}

// groupParams are the parts of a filter that tell groups apart.
var groupParams = map[lines.Dimension]string{
	lines.ByProduct: "product", lines.ByRevision: "revision", lines.ByJig: "jig", lines.ByShift: "shift", lines.ByOperator: "operator", lines.ByStation: "station",
	lines.ByMembrane: "lot", lines.ByDome: "lot", lines.ByBoard: "lot", lines.ByConsumables: "lot",
}

// unitsAmong is the address of the units of one group; empty where a filter cannot tell it.
func unitsAmong(s *study, by lines.Dimension, group string, b lines.Behind) string {
	v := units.Values(b)
	switch param := groupParams[by]; {
	case group == "":
	case by == lines.ByDay:
		return unitsBetween(s, group, group, b)
	case by == lines.ByHour:
		if from, err := time.Parse("2006-01-02T15:04Z07:00", group); err == nil {
			return unitsBetween(s, from.Format(time.RFC3339), from.Add(time.Hour).Format(time.RFC3339), b)
		}
	case param != "":
		v[param] = []string{group}
		return s.unitsLink(v)
	}
	return ""
}
