package quality

import (
	"errors"
	"math"
	"slices"

	"padjig/cmd/padjig/web/page"
	"padjig/results/answers"
	"padjig/results/answers/units"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/report"
	"padjig/results/report/chart"
)

// shiftPage is one shift on one page, to be handed over with.
func shiftPage(s *study) error {
	q := answers.ShiftAsked{Selection: s.about(), Name: s.param("at", ""), Day: s.param("day", "")}
	w, err := answers.AskShift(s.ctx, s.store, q)
	if errors.Is(err, answers.ErrNoShift) { // one of a plan of before
		q.Name = ""
		w, err = answers.AskShift(s.ctx, s.store, q)
	}
	day, wrongDay := errors.AsType[*answers.NoDayError](err)
	switch {
	case errors.Is(err, answers.ErrShiftTimes):
		return page.Wrong(s.Say("shift.times"))
	case errors.Is(err, answers.ErrNoShifts):
		return page.Wrong(s.Say("shift.noplan"))
	case wrongDay:
		return page.Wrong(s.Say("shift.noday", day.Day))
	case errors.Is(err, answers.ErrNoShift): // the plan has none of them on that day
		return page.Wrong(s.Say("shift.noday", q.Day))
	case err != nil:
		return err
	}
	names := make([]string, len(w.Plan.Shifts))
	for i, shift := range w.Plan.Shifts {
		names[i] = shift.Name
	}
	s.offer(ask{Name: "day", Label: s.Say("ask.day"), Kind: "date", Value: w.Day}, s.named("at", w.Name, names))
	told := seenFirst(tell(s.Words, w.Conclusions), "shift.", "yield.words", "yield.nothing", "handover")
	s.Notes = append(s.Notes, slices.DeleteFunc(slices.Clone(told), func(n note) bool { return n.Later })...)
	s.hours = hours{w.From, w.To, w.Name}
	shift(s, w, slices.DeleteFunc(told, func(n note) bool { return !n.Later }))
	signatures(s, w)
	s.none()
	return nil
}

// shift shows it; also is what can wait below the first chart.
func shift(s *study, w answers.Shift, also []note) {
	f := s.yieldFigure("yield", []lines.Dimension{lines.ByJig}, w.Rows, s.Say("shift.jigs"))
	f.Says = also
	s.add(f)
	if w.Total.Runs == 0 {
		return
	}
	byHour(s, w.Hours)
	pareto := drawPareto(s, w.Causes)
	pareto.Title = s.Say("shift.faults", len(w.Causes.Rows))
	s.add(pareto)
	s.listed(s.Say("shift.linestops"), report.LineStopTable(w.Stopped))
	s.stops(w.Stops)
	for _, t := range report.TroubleTables(w.Trouble) {
		s.listed(s.Say("trouble."+t.Name), t)
	}
	for _, one := range []struct {
		title string
		table report.Table
	}{
		{s.Say("shift.calibration"), report.CalibrationTable(w)}, {s.Say("shift.references"), report.ReferenceTable(w.Checks)},
		{s.Say("shift.open"), report.OpenTable(w.Open)}, {s.Say("shift.open.tags"), report.TagTable(w.Tags)}, {s.Say("events.title"), report.HappenedTable("events", "", w.Events)},
	} {
		if one.table.Name == "events" && len(one.table.Rows) > 0 {
			s.show(one.title, one.table, false)
			continue
		}
		s.listed(one.title, one.table)
	}
}

// byHour shows the shift hour by hour.
func byHour(s *study, rows []answers.YieldRow) {
	title := s.Say("shift.hours")
	bars := chart.Bars{Frame: s.frame("hours", title, s.Say("shift.hours.desc", len(rows)), 1000, 0),
		X: chart.Axis{Label: s.Say("axis.units")}}
	for _, row := range rows {
		bars.Bars = append(bars.Bars, chart.Bar{Name: clockOf(row.Groups[0]), Value: float64(row.Units), Low: math.NaN(),
			High: math.NaN(),
			Text: report.Whole(row.Units) + " · " + report.Part(s.Lang, row.First),
			Tip:  row.Groups[0] + "\n" + report.Part(s.Lang, row.First) + "\nn " + report.Whole(row.Units),
			Link: unitsAmong(s, lines.ByHour, row.Groups[0], units.Everything())})
	}
	s.add(figure{Title: title, Chart: bars.SVG(), Table: s.TableOf(report.YieldTable("hours",
		[]lines.Dimension{lines.ByHour}, rows), title)})
}

// clockOf is the time of day of an hour by which yields are grouped.
func clockOf(hour string) string {
	at, err := lines.HourOf(hour)
	if err != nil {
		return hour
	}
	return at.Format("15:04")
}

// signatures shows who took the shift over, and lets somebody do so.
func signatures(s *study, w answers.Shift) {
	f := figure{Title: s.Say("handover.title")}
	if len(w.Signed) > 0 {
		f.Table = s.TableOf(report.SignedTable(w.Signed), f.Title)
		f.Table.Open = true
		s.add(f)
	}
	s.Form = &signForm{Action: "/quality/handover", Title: s.Say("handover.sign"),
		Explain: s.Say("handover.words", w.Name, w.Day, s.person),
		Asks:    []ask{{Name: "note", Label: s.Say("gauge.note"), Kind: "text"}}, Button: s.Say("handover.button"),
		Fields: []page.Option{{Value: "shift", Text: w.Name}, {Value: "day", Text: w.Day}, {Value: "simulated", Text: bit(s.filter.Simulated)}}}
}

// handover signs for a shift: whoever comes in has read its page.
func (p *pages) handover(v *page.Visit) (page.Answer, error) {
	plan, err := p.store.Floor.Shifts(v.Ctx())
	if err != nil {
		return page.Answer{}, err
	}
	h := floor.Handover{Shift: v.Value("shift"), Day: v.Value("day"), Simulated: v.Value("simulated") == "1",
		By: v.Person.Name, Note: v.Text("note")}
	if plan == nil {
		return page.Answer{}, page.Wrong(v.Say("shift.noplan"))
	}
	if _, _, known, err := plan.When(h.Shift, h.Day); err != nil || !known {
		return page.Answer{}, page.Wrong(v.Say("shift.noday", h.Day))
	}
	return page.Answer{Say: v.Say("handover.done")}, p.store.Floor.SaveHandover(v.Ctx(), h)
}
