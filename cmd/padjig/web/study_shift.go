package web

import (
	"math"
	"slices"
	"strings"
	"time"

	"padjig/results"
	"padjig/results/report/chart"
)

// shiftPage is one shift on one page, to be handed over with.
var shiftPage = studyPage("/shift", "shift", func(s *study) error {
	plan, err := s.site.Store.Shifts(s.ctx())
	if err != nil {
		return err
	}
	if plan == nil {
		return wrong(s.say("shift.noplan"))
	}
	w, err := s.watchOf(*plan)
	if err != nil {
		return err
	}
	names := make([]string, len(plan.Shifts))
	for i, shift := range plan.Shifts {
		names[i] = shift.Name
	}
	s.Own = append(s.Own, ask{Name: "day", Label: s.say("ask.day"), Kind: "date", Value: w.day}, s.named("at", w.shift.Name, names))
	s.note("shift.is", w.shift.Name, s.moment(w.from), s.moment(w.to))
	s.filter.From, s.filter.To = w.from, w.to
	return w.page()
})

// watch is a shift of a day.
type watch struct {
	*study
	shift    results.Shift
	day      string
	from, to time.Time
}

// watchOf finds the shift that is asked for; the newest one with runs otherwise.
func (s *study) watchOf(plan results.ShiftPlan) (watch, error) {
	zone := s.zone()
	newest := time.Now()
	last, err := s.site.Store.LastUnits(s.ctx(), s.filter, 1)
	if err != nil {
		return watch{}, err
	}
	if len(last) > 0 {
		newest = last[0].Started
	}
	w := watch{study: s, shift: plan.Shifts[0]}
	w.day = newest.In(zone).Format("2006-01-02")
	before := newest.In(zone).AddDate(0, 0, -1).Format("2006-01-02") // a night shift may have begun the day before
	for _, shift := range plan.Shifts {
		for _, day := range []string{before, w.day} {
			from, to, _, err := plan.When(shift.Name, day)
			if err == nil && !newest.Before(from) && newest.Before(to) {
				w.shift, w.day = shift, day
			}
		}
	}
	if i := slices.IndexFunc(plan.Shifts, func(one results.Shift) bool { return one.Name == s.param("at", "") }); i >= 0 {
		w.shift = plan.Shifts[i]
	}
	w.day = s.param("day", w.day)
	if w.from, w.to, _, err = plan.When(w.shift.Name, w.day); err != nil {
		return w, wrong(s.say("shift.noday", w.day))
	}
	return w, nil
}

func (w watch) page() error {
	y, err := w.site.Store.Yields(w.ctx(), w.filter, results.ByJig)
	if err != nil {
		return err
	}
	f, err := w.yieldFigure("jigs", y.Rows, w.say("shift.jigs"), 1)
	if err != nil {
		return err
	}
	f.Says = w.yieldWords(y.Total)
	w.add(f)
	if y.Total.Runs == 0 {
		return nil
	}
	if err := w.hours(); err != nil {
		return err
	}
	causes, err := w.site.Store.Causes(w.ctx(), w.filter, results.CauseByPlace)
	if err != nil {
		return err
	}
	causes.Rows = causes.Rows[:min(topFaults, len(causes.Rows))]
	pareto := w.pareto(causes, results.CauseByPlace)
	pareto.Title = w.say("shift.faults", topFaults)
	w.add(pareto)
	stops, err := w.stopNotes()
	if err != nil {
		return err
	}
	if len(stops) == 0 {
		stops = says(w.say("stops.none", stopWindow))
	}
	w.add(figure{Title: w.say("stops.title"), Says: stops})
	if err := w.standing(y.Rows); err != nil {
		return err
	}
	for _, look := range []func() error{w.references, w.openUnits, w.happened, w.signatures} {
		if err := look(); err != nil {
			return err
		}
	}
	return nil
}

const topFaults = 5

// hours shows the shift hour by hour.
func (w watch) hours() error {
	y, err := w.site.Store.Yields(w.ctx(), w.filter, results.ByHour)
	if err != nil {
		return err
	}
	title := w.say("shift.hours")
	bars := chart.Bars{Frame: w.frame("hours", title, w.say("shift.hours.desc", len(y.Rows)), 1000, 0), X: chart.Axis{Label: w.say("col.units")}}
	for i, row := range y.Rows {
		if at, err := time.Parse("2006-01-02T15:04Z", row.Groups[0]); err == nil {
			y.Rows[i].Groups = []string{at.In(w.zone()).Format("15:04")}
		}
		bars.Bars = append(bars.Bars, chart.Bar{Name: y.Rows[i].Groups[0], Value: float64(row.Units), Low: math.NaN(), High: math.NaN(),
			Text: w.whole(row.Units) + " · " + w.partOf(row.FirstPassed, row.Units)})
	}
	t := w.yieldTable("hours", title, y.Rows, w.say("axis.group.hour"))
	w.add(figure{Title: title, Chart: bars.SVG(), Table: &t})
	return nil
}

// standing shows how the jigs of the shift stand with their calibration.
func (w watch) standing(jigs []results.Yield) error {
	t := table{Name: "calibration", Caption: w.say("shift.calibration"), Open: true, Columns: []column{{"jig", w.say("col.jig"), false},
		{"zero", w.say("col.zero"), false}, {"verify", w.say("col.verify"), false}}}
	when := w.to
	if now := time.Now(); now.Before(when) {
		when = now
	}
	f := figure{Title: w.say("shift.calibration"), Table: &t, Says: []note{}}
	for _, jig := range jigs {
		due, err := w.site.Store.DueState(w.ctx(), jig.Groups[0], w.filter.Simulated, when)
		if err != nil {
			return err
		}
		row := []cell{plainWords(jig.Groups[0])}
		for _, one := range []results.Due{due.Zero, due.Verify} {
			good := one.Standing == results.StandsGood || one.Standing == results.StandsDueSoon
			row = append(row, cell{Text: w.say("standing." + string(one.Standing)), Value: string(one.Standing), Mark: !good})
			if one.Standing == results.StandsOverdue || one.Standing == results.StandsBad {
				f.Says = append(f.Says, note{Text: w.say("shift.notgood", jig.Groups[0], w.say("standing."+string(one.Standing))), Kind: "warn"})
			}
		}
		t.Rows = append(t.Rows, row)
	}
	w.add(f)
	return nil
}

// references shows what each reference unit last showed on each jig.
func (w watch) references() error {
	checks, err := w.site.Store.LastChecks(w.ctx(), w.to, w.filter.Simulated)
	if err != nil {
		return err
	}
	t := table{Name: "references", Caption: w.say("shift.references"), Open: true, Columns: []column{{"jig", w.say("col.jig"), false}, {"unit", w.say("col.part"), false},
		{"at", w.say("col.at"), false}, {"good", w.say("shift.asitmust"), false}, {"why", w.say("col.what"), false}}}
	f := figure{Title: w.say("shift.references"), Says: says(w.say("shift.noreferences"))}
	for _, c := range checks {
		good := w.say("shift.yes")
		if !c.Good {
			good = w.say("shift.no")
		}
		t.Rows = append(t.Rows, []cell{plainWords(c.Jig), plainWords(c.Unit), {Text: w.moment(c.At), Value: c.At}, {Text: good, Value: c.Good, Mark: !c.Good}, {Text: c.Why, Value: c.Why, Lang: "en"}})
	}
	if len(t.Rows) > 0 {
		f.Table, f.Says = &t, nil
	}
	w.add(f)
	return nil
}

// openUnits lists units of the shift that failed and have not passed since: what
// somebody must still do something about.
func (w watch) openUnits() error {
	units, err := w.site.Store.OpenUnits(w.ctx(), w.filter)
	if err != nil {
		return err
	}
	t := table{Name: "open", Caption: w.say("shift.open"), Open: true, Columns: []column{{"serial", w.say("col.part"), false}, {"jig", w.say("col.jig"), false},
		{"failed", w.say("col.at"), false}, {"runs", w.say("col.runs"), true}, {"cause", w.say("col.cause"), false}}}
	for _, u := range units {
		t.Rows = append(t.Rows, []cell{{Text: u.Serial, Value: u.Serial, Link: unitAddress(u.Serial)}, plainWords(u.Jig), {Text: w.moment(u.Failed), Value: u.Failed},
			w.count(u.Runs), {Text: u.Cause, Value: u.Cause, Lang: "en"}})
	}
	f := figure{Title: w.say("shift.open"), Says: says(w.say("shift.opencount", len(units)))}
	if len(units) > 0 {
		f.Table = &t
	}
	w.add(f)
	return nil
}

// happened lists what was done to the jigs meanwhile.
func (w watch) happened() error {
	list, err := w.site.Store.Happenings(w.ctx(), w.filter)
	if err != nil {
		return err
	}
	t := table{Name: "events", Caption: w.say("events.title"), Open: true, Columns: []column{{"at", w.say("col.at"), false}, {"jig", w.say("col.jig"), false},
		{"kind", w.say("col.kind"), false}, {"what", w.say("col.what"), false}}}
	for _, h := range list {
		t.Rows = append(t.Rows, []cell{{Text: w.moment(h.At), Value: h.At}, plainWords(h.Jig), {Text: w.say("event." + h.Kind), Value: h.Kind}, {Text: h.Text, Value: h.Text, Lang: "en"}})
	}
	f := figure{Title: w.say("events.title"), Says: says(w.say("shift.events", len(t.Rows)))}
	if len(t.Rows) > 0 {
		f.Table = &t
	}
	w.add(f)
	return nil
}

// signatures shows who took the shift over, and lets somebody do so.
func (w watch) signatures() error {
	list, err := w.site.Store.Handovers(w.ctx(), w.shift.Name, w.day, w.filter.Simulated)
	if err != nil {
		return err
	}
	t := table{Name: "handover", Caption: w.say("handover.title"), Open: true, Columns: []column{{"by", w.say("col.by"), false}, {"at", w.say("col.at"), false}, {"note", w.say("gauge.note"), false}}}
	for _, h := range list {
		t.Rows = append(t.Rows, []cell{plainWords(h.By), {Text: w.moment(h.At), Value: h.At}, plainWords(h.Note)})
	}
	f := figure{Title: w.say("handover.title"), Says: says(w.say("handover.nobody"))}
	if len(list) > 0 {
		f.Table, f.Says = &t, nil
	}
	w.add(f)
	kind := "0"
	if w.filter.Simulated {
		kind = "1"
	}
	w.Form = &signForm{Action: "/quality/handover", Title: w.say("handover.sign"), Explain: w.say("handover.words", w.shift.Name, w.day, w.Person.Name),
		Asks: []ask{{Name: "note", Label: w.say("gauge.note"), Kind: "text"}}, Button: w.say("handover.button"),
		Fields: []option{{Value: "shift", Text: w.shift.Name}, {Value: "day", Text: w.day}, {Value: "simulated", Text: kind}}}
	return nil
}

// handoverAction signs for a shift: whoever comes in has read its page.
var handoverAction = action{path: "/quality/handover", who: studying, do: func(v *visit) (answer, error) {
	plan, err := v.site.Store.Shifts(v.ctx())
	if err != nil {
		return answer{}, err
	}
	h := results.Handover{Shift: v.r.FormValue("shift"), Day: v.r.FormValue("day"), Simulated: v.r.FormValue("simulated") == "1",
		By: v.Person.Name, Note: strings.TrimSpace(v.r.FormValue("note"))}
	if plan == nil {
		return answer{}, wrong(v.say("shift.noplan"))
	}
	if _, _, known, err := plan.When(h.Shift, h.Day); err != nil || !known {
		return answer{}, wrong(v.say("shift.noday", h.Day))
	}
	return answer{Say: v.say("handover.done")}, v.site.Store.SaveHandover(v.ctx(), h)
}}
