package floor

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
	_ "time/tzdata" // a station may have no time zone database of its own
	"unicode"

	"padjig/results/store"
)

// ShiftPlan is when people work. It holds for runs stored after it; runs of
// before keep the shifts of their time.
type ShiftPlan struct {
	Zone   string // of the time zone database, such as "Europe/Vienna"
	Shifts []Shift
	By     string
	Reason string
	At     time.Time
}

// Shift is a part of the day. One that ends before it begins ends on the next day.
type Shift struct {
	Name         string
	Begins, Ends int      // minutes after midnight; it begins with the first and ends before the second
	Days         Weekdays // on which it begins
}

// ParseShift reads "early 06:00-14:00", or with its days "early 06:00-14:00 mon-fri".
func ParseShift(text string) (Shift, error) {
	rest, last, _ := cutLast(strings.TrimSpace(text), " ")
	var days Weekdays
	if last != "" && !unicode.IsDigit(rune(last[0])) { // hours begin with a digit, also those written wrong
		var err error
		if days, err = ParseWeekdays(last); err != nil {
			return Shift{}, fmt.Errorf("shift %q: %w", text, err)
		}
		text = rest
	}
	name, hours, ok := cutLast(strings.TrimSpace(text), " ")
	begins, ends, dash := strings.Cut(hours, "-")
	if !ok || !dash || name == "" {
		return Shift{}, fmt.Errorf(`shift %q: write its name and its hours, such as "early 06:00-14:00"`, text)
	}
	s := Shift{Name: strings.TrimSpace(name), Days: days}
	var errs [2]error
	s.Begins, errs[0] = MinuteOf(begins)
	s.Ends, errs[1] = MinuteOf(ends)
	if err := errors.Join(errs[:]...); err != nil {
		return Shift{}, fmt.Errorf("shift %q: %w", text, err)
	}
	return s, nil
}

func cutLast(text, sep string) (before, after string, ok bool) {
	i := strings.LastIndex(text, sep)
	if i < 0 {
		return text, "", false
	}
	return text[:i], text[i+len(sep):], true
}

// MinuteOf reads a time of day such as 06:00, in minutes after midnight.
func MinuteOf(clock string) (int, error) {
	t, err := time.Parse("15:04", strings.TrimSpace(clock))
	if err != nil {
		return 0, fmt.Errorf("%q is no time of day such as 06:00", clock)
	}
	return t.Hour()*60 + t.Minute(), nil
}

// String gives the form that [ParseShift] reads.
func (s Shift) String() string {
	text := fmt.Sprintf("%s %02d:%02d-%02d:%02d", s.Name, s.Begins/60, s.Begins%60, s.Ends/60, s.Ends%60)
	if s.Days != everyDay {
		text += " " + s.Days.String()
	}
	return text
}

// span is when the shift is that begins on the day of a time. Its ends are dates, not
// durations: where clocks change within it, it is an hour longer or shorter.
func (s Shift) span(day time.Time) (from, to time.Time) {
	clock := func(days, minutes int) time.Time {
		return time.Date(day.Year(), day.Month(), day.Day()+days, 0, minutes, 0, 0, day.Location()).UTC()
	}
	next := 0
	if s.Ends <= s.Begins {
		next = 1
	}
	return clock(0, s.Begins), clock(next, s.Ends)
}

// Began gives the day on which the shift began that a time lies in; false when it lies in
// none. The time is one in the zone of the plan.
func (s Shift) Began(at time.Time) (day time.Time, in bool) {
	for back := range 2 { // a night shift began the day before
		day := time.Date(at.Year(), at.Month(), at.Day()-back, 12, 0, 0, 0, at.Location())
		if from, to := s.span(day); s.Days.On(day.Weekday()) && !at.Before(from) && at.Before(to) {
			return day, true
		}
	}
	return time.Time{}, false
}

// meets reports whether two shifts are at the same time on some day of the week.
func (s Shift) meets(o Shift) bool {
	const day, week = 24 * 60, 7 * 24 * 60
	length := func(s Shift) int { return (s.Ends-s.Begins+day-1)%day + 1 }
	for mine := range 7 {
		for other := range 7 {
			if !s.Days.on(mine) || !o.Days.on(other) {
				continue
			}
			apart := (other*day + o.Begins - mine*day - s.Begins + week) % week
			if apart < length(s) || week-apart < length(o) {
				return true
			}
		}
	}
	return false
}

// PlanMistake is one thing wrong with a plan: a code with its arguments, and which shift
// it is about, -1 for the plan itself.
type PlanMistake struct {
	Code  string
	Shift int
	Args  []any
}

// planSentences words them.
var planSentences = map[string]string{
	"zone":    "time zone %q is not known: write one such as Europe/Vienna",
	"by":      "nobody is named who set the shifts",
	"none":    "there is no shift",
	"unnamed": "shift %d has no name",
	"twice":   "two shifts are called %q",
	"overlap": "shifts %q and %q overlap",
}

// Wrong lists everything wrong with the plan.
func (p ShiftPlan) Wrong() []PlanMistake {
	var out []PlanMistake
	add := func(code string, shift int, args ...any) { out = append(out, PlanMistake{code, shift, args}) }
	if _, err := time.LoadLocation(p.Zone); err != nil || p.Zone == "" || p.Zone == "Local" {
		add("zone", -1, p.Zone)
	}
	if p.By == "" {
		add("by", -1)
	}
	if len(p.Shifts) == 0 {
		add("none", -1)
	}
	for i, s := range p.Shifts {
		if strings.TrimSpace(s.Name) == "" {
			add("unnamed", i, i+1)
		}
		for _, o := range p.Shifts[:i] {
			if s.Name == o.Name {
				add("twice", i, s.Name)
			}
			if s.meets(o) {
				add("overlap", i, o.String(), s.String())
			}
		}
	}
	return out
}

// Mistakes are what is wrong with the plan in words.
func (p ShiftPlan) Mistakes() []string {
	return store.Each(p.Wrong(), func(m PlanMistake) string { return fmt.Sprintf(planSentences[m.Code], m.Args...) })
}

// SaveShifts records the shifts that hold from now on.
func (s *Records) SaveShifts(ctx context.Context, p ShiftPlan) error {
	if wrong := p.Mistakes(); len(wrong) > 0 {
		return fmt.Errorf("save shifts: %w: %s", store.ErrRefused, strings.Join(wrong, "; "))
	}
	return s.db.Save(ctx, "save shifts", func(tx *sql.Tx) error {
		return SaveShifts(ctx, tx, p, s.db.Now().UnixMicro())
	})
}

// SaveShifts records a plan inside a transaction, as of a time.
func SaveShifts(ctx context.Context, tx *sql.Tx, p ShiftPlan, at int64) error {
	var plan int64
	if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(plan), 0) + 1 FROM shift`).Scan(&plan); err != nil {
		return err
	}
	for _, shift := range p.Shifts {
		_, err := tx.ExecContext(ctx, `
			INSERT INTO shift (shift, plan, name, begins_min, ends_min, zone, after_run, by, reason, at_us, days)
			SELECT (SELECT coalesce(max(shift), 0) + 1 FROM shift), ?, ?, ?, ?, ?,
			       (SELECT coalesce(max(seq), 0) FROM run), ?, ?, ?, ?`,
			plan, shift.Name, shift.Begins, shift.Ends, p.Zone, p.By, p.Reason, at, shift.Days.kept())
		if err != nil {
			return err
		}
	}
	return nil
}

// Shifts gives the plan in force, nil when none was set.
func (s *Records) Shifts(ctx context.Context) (*ShiftPlan, error) {
	var plan *ShiftPlan
	err := s.db.Ask(ctx, "look up shifts", func(tx *sql.Tx) error {
		var number int64
		err := tx.QueryRowContext(ctx, `SELECT coalesce(max(plan), 0) FROM shift`).Scan(&number)
		if err != nil || number == 0 {
			return err
		}
		stored, err := PlanOf(ctx, tx, number)
		plan = &stored.ShiftPlan
		return err
	})
	return plan, err
}

// PlanInForce is a plan with the numbers of its shifts.
type PlanInForce struct {
	ShiftPlan
	numbers []int64
	zone    *time.Location
}

// PlanOf reads the plan of a number.
func PlanOf(ctx context.Context, tx *sql.Tx, plan int64) (PlanInForce, error) {
	var out PlanInForce
	err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var number int64
		var s Shift
		err := rows.Scan(&number, &s.Name, &s.Begins, &s.Ends, &out.Zone, &out.By, &out.Reason, store.Time(&out.ShiftPlan.At), &s.Days)
		s.Days = s.Days.read()
		out.numbers, out.Shifts = append(out.numbers, number), append(out.Shifts, s)
		return err
	}, `SELECT shift, name, begins_min, ends_min, zone, by, reason, at_us, days FROM shift WHERE plan = ? ORDER BY shift`, plan)
	if err != nil {
		return out, err
	}
	out.zone, err = time.LoadLocation(out.Zone)
	return out, err
}

// At gives the number of the shift at a time, 0 between shifts.
func (p PlanInForce) At(micros int64) int64 {
	if len(p.Shifts) == 0 {
		return 0
	}
	local := time.UnixMicro(micros).In(p.zone)
	for i, s := range p.Shifts {
		if _, in := s.Began(local); in {
			return p.numbers[i]
		}
	}
	return 0
}
