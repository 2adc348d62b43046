package floor

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
	_ "time/tzdata" // a station may have no time zone database of its own

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
	Begins, Ends int // minutes after midnight; it begins with the first and ends before the second
}

// ParseShift reads "early 06:00-14:00".
func ParseShift(text string) (Shift, error) {
	name, hours, ok := cutLast(strings.TrimSpace(text), " ")
	begins, ends, dash := strings.Cut(hours, "-")
	if !ok || !dash || name == "" {
		return Shift{}, fmt.Errorf(`shift %q: write its name and its hours, such as "early 06:00-14:00"`, text)
	}
	s := Shift{Name: strings.TrimSpace(name)}
	var errs [2]error
	s.Begins, errs[0] = minuteOf(begins)
	s.Ends, errs[1] = minuteOf(ends)
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

func minuteOf(clock string) (int, error) {
	t, err := time.Parse("15:04", strings.TrimSpace(clock))
	if err != nil {
		return 0, fmt.Errorf("%q is no time of day such as 06:00", clock)
	}
	return t.Hour()*60 + t.Minute(), nil
}

// String gives the form that [ParseShift] reads.
func (s Shift) String() string {
	return fmt.Sprintf("%s %02d:%02d-%02d:%02d", s.Name, s.Begins/60, s.Begins%60, s.Ends/60, s.Ends%60)
}

func (s Shift) holds(minute int) bool {
	if s.Begins < s.Ends {
		return minute >= s.Begins && minute < s.Ends
	}
	return minute >= s.Begins || minute < s.Ends
}

// Mistakes lists everything wrong with the plan.
func (p ShiftPlan) Mistakes() []string {
	var out []string
	add := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	if _, err := time.LoadLocation(p.Zone); err != nil || p.Zone == "" || p.Zone == "Local" {
		add("time zone %q is not known: write one such as Europe/Vienna", p.Zone)
	}
	if p.By == "" {
		add("nobody is named who set the shifts")
	}
	if len(p.Shifts) == 0 {
		add("there is no shift")
	}
	for i, s := range p.Shifts {
		for _, o := range p.Shifts[:i] {
			if s.Name == o.Name {
				add("two shifts are called %q", s.Name)
			}
			if s.holds(o.Begins) || o.holds(s.Begins) {
				add("shifts %q and %q overlap", o, s)
			}
		}
	}
	return out
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
			INSERT INTO shift (shift, plan, name, begins_min, ends_min, zone, after_run, by, reason, at_us)
			SELECT (SELECT coalesce(max(shift), 0) + 1 FROM shift), ?, ?, ?, ?, ?,
			       (SELECT coalesce(max(seq), 0) FROM run), ?, ?, ?`,
			plan, shift.Name, shift.Begins, shift.Ends, p.Zone, p.By, p.Reason, at)
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
		err := rows.Scan(&number, &s.Name, &s.Begins, &s.Ends, &out.Zone, &out.By, &out.Reason, store.Time(&out.ShiftPlan.At))
		out.numbers, out.Shifts = append(out.numbers, number), append(out.Shifts, s)
		return err
	}, `SELECT shift, name, begins_min, ends_min, zone, by, reason, at_us FROM shift WHERE plan = ? ORDER BY shift`, plan)
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
		if s.holds(local.Hour()*60 + local.Minute()) {
			return p.numbers[i]
		}
	}
	return 0
}
