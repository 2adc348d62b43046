package floor

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results/floor"
)

// Plan is the plan of the shifts, as it is or as it was typed.
type Plan struct {
	Zone   string    `json:"zone"`
	By     string    `json:"by"`
	At     time.Time `json:"at,omitzero"`
	Reason string    `json:"reason"`
	Rows   []Row     `json:"rows"`
	Coming []Coming  `json:"coming"` // shifts of the next days
	Clocks []Coming  `json:"clocks"` // shifts within which clocks change, in the next year
	Set    bool      `json:"set"`    // there is a plan
}

// Row is a shift as a form has it.
type Row struct {
	Number int           `json:"-"`
	Name   string        `json:"name"`
	Begins string        `json:"begins"`
	Ends   string        `json:"ends"`
	Days   []page.Option `json:"-"`
	Words  string        `json:"days"`
}

// Coming is a shift on a day.
type Coming struct {
	Name      string    `json:"name"`
	From      time.Time `json:"from,omitzero"`
	To        time.Time `json:"to,omitzero"`
	Hours     float64   `json:"hours"`
	Usual     float64   `json:"usual"` // hours where no clock changes
	Overnight bool      `json:"overnight"`
}

// Changed reports whether clocks change within it.
func (c Coming) Changed() bool { return c.Hours != c.Usual }

// spareRows are empty rows for shifts more, mostRows as many as a plan has.
const (
	spareRows = 2
	mostRows  = 12
)

func (p *pages) plan(v *page.Visit) (any, error) {
	now, err := p.store.Floor.Shifts(v.Ctx())
	if err != nil {
		return nil, err
	}
	clock, err := p.store.Floor.Clock(v.Ctx())
	if err != nil {
		return nil, err
	}
	out := Plan{}
	if zone := clock.Zone().String(); zone != time.Local.String() { // that of this computer is no name
		out.Zone = zone
	}
	if now != nil {
		out = Plan{Zone: now.Zone, By: now.By, At: now.At, Reason: now.Reason, Set: true}
		for _, s := range now.Shifts {
			out.Rows = append(out.Rows, rowOf(v, s))
		}
		out.Coming, out.Clocks = coming(*now)
	}
	return out.spared(v), nil
}

func rowOf(v *page.Visit, s floor.Shift) Row {
	clock := func(minute int) string { return fmt.Sprintf("%02d:%02d", minute/60, minute%60) }
	return Row{Name: s.Name, Begins: clock(s.Begins), Ends: clock(s.Ends), Days: dayOptions(v, s.Days), Words: s.Days.String()}
}

// spared adds empty rows, and numbers all.
func (p Plan) spared(v *page.Visit) Plan {
	for range spareRows {
		if len(p.Rows) < mostRows {
			p.Rows = append(p.Rows, Row{Days: dayOptions(v, 0)})
		}
	}
	for i := range p.Rows {
		p.Rows[i].Number = i + 1
	}
	return p
}

// dayOptions are the days of the week, Monday first.
func dayOptions(v *page.Visit, chosen floor.Weekdays) (out []page.Option) {
	for day := range 7 {
		out = append(out, page.Option{Value: strconv.Itoa(day), Text: v.Say("day." + strconv.Itoa(day)), Chosen: chosen.On(time.Weekday((day + 1) % 7))})
	}
	return out
}

// soon is how many days are shown.
const soon = 7

// coming are the shifts of the next days, and those of a year within which clocks change.
func coming(plan floor.ShiftPlan) (next, clocks []Coming) {
	zone, err := time.LoadLocation(plan.Zone)
	if err != nil {
		return nil, nil
	}
	today := time.Now().In(zone)
	for ahead := range 366 {
		day := time.Date(today.Year(), today.Month(), today.Day()+ahead, 12, 0, 0, 0, zone).Format("2006-01-02")
		for _, s := range plan.Shifts {
			from, to, on, err := plan.When(s.Name, day)
			if err != nil || !on {
				continue
			}
			minutes := (s.Ends-s.Begins+24*60-1)%(24*60) + 1
			c := Coming{Name: s.Name, From: from, To: to, Hours: to.Sub(from).Hours(), Usual: float64(minutes) / 60, Overnight: s.Ends <= s.Begins}
			if ahead < soon {
				next = append(next, c)
			}
			if c.Changed() {
				clocks = append(clocks, c)
			}
		}
	}
	slices.SortStableFunc(next, func(a, b Coming) int { return a.From.Compare(b.From) })
	return next, clocks
}

// setPlan sets when the shifts are from now on; what is wrong is said at each shift.
func (p *pages) setPlan(v *page.Visit) (page.Answer, error) {
	plan := floor.ShiftPlan{Zone: v.Text("zone"), By: v.Person.Name}
	var wrong []page.Mistake
	add := func(field, say string) { wrong = append(wrong, page.Mistake{Field: field, Say: say}) }
	var of []string // what stands behind the names of the fields of each shift
	typed := false
	for i := range mostRows {
		row := "-" + strconv.Itoa(i)
		if v.Text("name"+row) == "" && v.Text("begins"+row) == "" && v.Text("ends"+row) == "" {
			continue
		}
		typed = true
		if shift, good := read(v, row, add); good {
			plan.Shifts, of = append(plan.Shifts, shift), append(of, row)
		}
	}
	for _, m := range plan.Wrong() {
		say := v.Say("shiftplan.wrong."+m.Code, m.Args...)
		switch {
		case m.Shift >= 0:
			add("name"+of[m.Shift], say)
		case m.Code != "none":
			add(m.Code, say)
		case !typed:
			add("name-0", say)
		}
	}
	var err error
	if plan.Reason, err = v.Reason(); err != nil {
		add("reason", err.Error())
	}
	if err := page.WrongFields(wrong...); err != nil {
		return page.Answer{}, err
	}
	return page.Answer{Go: planPath}, p.store.Floor.SaveShifts(v.Ctx(), plan)
}

// read reads one shift of the form.
func read(v *page.Visit, row string, wrong func(field, say string)) (s floor.Shift, good bool) {
	good = true
	s.Name = strings.Join(strings.Fields(v.Value("name"+row)), " ")
	var days []int
	for _, day := range v.Values("days" + row) {
		if n, err := strconv.Atoi(day); err == nil && n >= 0 && n < 7 {
			days = append(days, n)
		}
	}
	if s.Days = floor.OnDays(days...); len(days) == 0 {
		wrong("days"+row, v.Say("shiftplan.nodays"))
		good = false
	}
	for name, into := range map[string]*int{"begins": &s.Begins, "ends": &s.Ends} {
		minute, err := floor.MinuteOf(v.Text(name + row))
		if err != nil {
			wrong(name+row, v.Say("shiftplan.notime", v.Text(name+row)))
			good = false
		}
		*into = minute
	}
	return s, good
}
