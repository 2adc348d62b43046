package web

import (
	"errors"
	"math"
	"strings"

	"padjig/results/answers"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// shiftFigures is the figures of the page of a shift.
type shiftFigures struct{ *study }

// shiftPage is one shift on one page, to be handed over with.
var shiftPage = studyPage("/shift", "shift", func(s *study) error {
	q := answers.ShiftAsked{Selection: s.about(), Name: s.param("at", ""), Day: s.param("day", "")}
	w, err := answers.AskShift(s.ctx(), s.site.Store, q)
	if errors.Is(err, answers.ErrNoShift) { // one of a plan of before
		q.Name = ""
		w, err = answers.AskShift(s.ctx(), s.site.Store, q)
	}
	day, wrongDay := errors.AsType[*answers.NoDayError](err)
	switch {
	case errors.Is(err, answers.ErrShiftTimes):
		return wrong(s.say("shift.times"))
	case errors.Is(err, answers.ErrNoShifts):
		return wrong(s.say("shift.noplan"))
	case wrongDay:
		return wrong(s.say("shift.noday", day.Day))
	case err != nil:
		return err
	}
	names := make([]string, len(w.Plan.Shifts))
	for i, shift := range w.Plan.Shifts {
		names[i] = shift.Name
	}
	s.Own = append(s.Own, ask{Name: "day", Label: s.say("ask.day"), Kind: "date", Value: w.Day},
		s.named("at", w.Name, names))
	s.Notes = append(s.Notes, s.tell(w.Conclusions)...)
	shiftFigures{s}.shift(w)
	shiftFigures{s}.signatures(w)
	return nil
})

func (s shiftFigures) shift(w answers.Shift) {
	s.add(s.yieldFigure("yield", []lines.Dimension{lines.ByJig}, w.Rows, s.say("shift.jigs")))
	if w.Total.Runs == 0 {
		return
	}
	s.hours(w.Hours)
	pareto := s.pareto(w.Causes)
	pareto.Title = s.say("shift.faults", len(w.Causes.Rows))
	s.add(pareto)
	s.stops(w.Stops)
	for _, one := range []struct {
		table report.Table
		title string
	}{
		{report.CalibrationTable(w), s.say("shift.calibration")}, {report.ReferenceTable(w.Checks),
			s.say("shift.references")},
		{report.OpenTable(w.Open), s.say("shift.open")}, {report.HappenedTable("events", "", w.Events),
			s.say("events.title")},
	} {
		f := figure{Title: one.title}
		if len(one.table.Rows) > 0 {
			f.Table = s.tableOf(one.table, one.title)
			f.Table.Open = one.table.Name != "events"
		} else {
			f.Says = says(s.say("shift.nothing"))
		}
		s.add(f)
	}
}

// hours shows the shift hour by hour.
func (s shiftFigures) hours(rows []answers.YieldRow) {
	title := s.say("shift.hours")
	bars := chart.Bars{Frame: s.frame("hours", title, s.say("shift.hours.desc", len(rows)), 1000, 0),
		X: chart.Axis{Label: s.say("axis.units")}}
	for _, row := range rows {
		bars.Bars = append(bars.Bars, chart.Bar{Name: row.Groups[0], Value: float64(row.Units), Low: math.NaN(),
			High: math.NaN(),
			Text: s.whole(row.Units) + " · " + s.partOf(row.First)})
	}
	s.add(figure{Title: title, Chart: bars.SVG(), Table: s.tableOf(report.YieldTable("hours",
		[]lines.Dimension{lines.ByHour}, rows), title)})
}

// signatures shows who took the shift over, and lets somebody do so.
func (s shiftFigures) signatures(w answers.Shift) {
	f := figure{Title: s.say("handover.title"), Says: []note{}}
	if len(w.Signed) > 0 {
		f.Table = s.tableOf(report.SignedTable(w.Signed), f.Title)
		f.Table.Open = true
	}
	s.add(f)
	kind := "0"
	if s.filter.Simulated {
		kind = "1"
	}
	s.Form = &signForm{Action: "/quality/handover", Title: s.say("handover.sign"),
		Explain: s.say("handover.words", w.Name, w.Day, s.Person.Name),
		Asks:    []ask{{Name: "note", Label: s.say("gauge.note"), Kind: "text"}}, Button: s.say("handover.button"),
		Fields: []option{{Value: "shift", Text: w.Name}, {Value: "day", Text: w.Day}, {Value: "simulated", Text: kind}}}
}

// handoverAction signs for a shift: whoever comes in has read its page.
var handoverAction = action{path: "/quality/handover", who: studying, do: func(v *visit) (answer, error) {
	plan, err := v.site.Store.Floor.Shifts(v.ctx())
	if err != nil {
		return answer{}, err
	}
	h := floor.Handover{Shift: v.r.FormValue("shift"), Day: v.r.FormValue("day"),
		Simulated: v.r.FormValue("simulated") == "1",
		By:        v.Person.Name, Note: strings.TrimSpace(v.r.FormValue("note"))}
	if plan == nil {
		return answer{}, wrong(v.say("shift.noplan"))
	}
	if _, _, known, err := plan.When(h.Shift, h.Day); err != nil || !known {
		return answer{}, wrong(v.say("shift.noday", h.Day))
	}
	return answer{Say: v.say("handover.done")}, v.site.Store.Floor.SaveHandover(v.ctx(), h)
}}
