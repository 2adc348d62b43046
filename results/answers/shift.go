package answers

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"padjig/results"
	"padjig/results/care"
	"padjig/results/fails"
	"padjig/results/floor"
	"padjig/results/lines"
)

// ShiftAsked asks what the next shift has to know.
type ShiftAsked struct {
	Selection
	Name string   // empty: the newest one with runs
	Day  string   // on which it began
	Rule StopRule // zero: [DefaultRule]
}

// Shift is one shift.
type Shift struct {
	ShiftAsked
	Plan     floor.ShiftPlan
	From, To time.Time
	Rows     []YieldRow // by jig
	Total    YieldRow
	Mixed    lines.Mixture
	Hours    []YieldRow
	Causes   Causes // by place, the most frequent
	Stops    Stops  // where they would have been
	Trouble
	Calibrations []JigState
	Checks       []care.LastCheck
	Open         []lines.OpenUnit // failed, and not passed since
	Tags         []fails.Owed     // failed by the end of the shift, and not placed until now
	Signed       []floor.Handover
	Events       []lines.Event
	Conclusions  []Sentence
}

// JigState is how the calibration of a jig stood at the end of a shift.
type JigState struct {
	Jig string
	care.DueState
}

// Why there is no shift to tell of.
var (
	ErrNoShifts = errors.New("no shifts are set")
	ErrNoShift  = errors.New("there is no such shift")
	// ErrShiftTimes is returned for a selection that has times of its own.
	ErrShiftTimes = errors.New("a shift has times of its own: choose neither times nor shifts besides")
)

// NoDayError is returned for a day that is none.
type NoDayError struct{ Day string }

func (e *NoDayError) Error() string { return fmt.Sprintf("%q is no day such as 2026-03-02", e.Day) }

// mostFaults is how many causes a shift is told of.
const mostFaults = 5

// AskShift tells of a shift.
func AskShift(ctx context.Context, s *results.Store, a ShiftAsked) (Shift, error) {
	sh := Shift{ShiftAsked: a}
	if f := a.Filter; len(f.Shifts) > 0 || !f.From.IsZero() || !f.To.IsZero() {
		return sh, ErrShiftTimes
	}
	all, err := s.Lines.Yields(ctx, a.Filter)
	if err != nil {
		return sh, err
	}
	if all.Total.Runs == 0 { // in no shift at all; one shift without a unit is an answer
		return sh, a.NoUnits()
	}
	plan, err := s.Floor.Shifts(ctx)
	if err != nil {
		return sh, err
	}
	if plan == nil {
		return sh, ErrNoShifts
	}
	if sh.Plan = *plan; sh.Name == "" || sh.Day == "" {
		if err := sh.newest(ctx, s); err != nil {
			return sh, err
		}
	}
	var known bool
	if sh.From, sh.To, known, err = plan.When(sh.Name, sh.Day); err != nil {
		return sh, &NoDayError{sh.Day}
	}
	if !known {
		return sh, fmt.Errorf("%w: %q; there are %s", ErrNoShift, sh.Name, plan.Names())
	}
	sh.Filter.Shifts, sh.Filter.From, sh.Filter.To = []string{sh.Name}, sh.From, sh.To
	if err := sh.production(ctx, s); err != nil {
		return sh, err
	}
	if err := sh.around(ctx, s); err != nil {
		return sh, err
	}
	sh.Conclusions = sh.words()
	return sh, nil
}

// newest takes the shift of the newest unit for what was not said.
func (sh *Shift) newest(ctx context.Context, s *results.Store) error {
	zone, at := sh.Plan.Clock().Zone(), time.Now()
	last, err := s.Lines.LastUnits(ctx, sh.Filter, 1)
	if err != nil {
		return err
	}
	if len(last) > 0 {
		at = last[0].Started
	}
	name, day := sh.Plan.Shifts[0].Name, at.In(zone).Format("2006-01-02")
	before := at.In(zone).AddDate(0, 0, -1).Format("2006-01-02") // a night shift may have begun the day before
	for _, shift := range sh.Plan.Shifts {
		for _, one := range []string{before, at.In(zone).Format("2006-01-02")} {
			from, to, _, err := sh.Plan.When(shift.Name, one)
			if err == nil && !at.Before(from) && at.Before(to) {
				name, day = shift.Name, one
			}
		}
	}
	sh.Name, sh.Day = cmp.Or(sh.Name, name), cmp.Or(sh.Day, day)
	return nil
}

func (sh *Shift) production(ctx context.Context, s *results.Store) error {
	y, err := sh.yields(ctx, s, lines.ByJig)
	if err != nil {
		return err
	}
	sh.Rows, sh.Total, sh.Mixed = y.Rows, y.Total, y.Mixed
	hours, err := sh.yields(ctx, s, lines.ByHour)
	if err != nil {
		return err
	}
	for i, row := range hours.Rows {
		if at, err := lines.HourOf(row.Groups[0]); err == nil {
			hours.Rows[i].Groups = []string{sh.Plan.Clock().Hour(at)}
		}
	}
	sh.Hours = hours.Rows
	if sh.Causes, err = sh.causes(ctx, s, lines.CauseByPlace); err != nil {
		return err
	}
	sh.Causes.Rows = slices.DeleteFunc(sh.Causes.Rows, func(c CauseRow) bool { return c.Worst == 0 })
	sh.Causes.Rows = sh.Causes.Rows[:min(mostFaults, len(sh.Causes.Rows))]
	sh.Stops, err = sh.stops(ctx, s, sh.Rule, max(sh.Total.Units, 1), sh.Total.First.Value)
	return err
}

// around tells how the jigs stood, and what is left to do.
func (sh *Shift) around(ctx context.Context, s *results.Store) (err error) {
	zone := sh.Plan.Clock().Zone()
	sh.From, sh.To = sh.From.In(zone), sh.To.In(zone)
	for _, row := range sh.Rows {
		state, err := s.Care.DueAt(ctx, row.Groups[0], sh.Filter.Simulated, row.LastRun, sh.To)
		if err != nil {
			return err
		}
		sh.Calibrations = append(sh.Calibrations, JigState{row.Groups[0], state})
	}
	if sh.Open, err = s.Lines.OpenUnits(ctx, sh.Filter); err != nil {
		return err
	}
	if sh.Tags, err = openTags(ctx, s, sh.Filter); err != nil {
		return err
	}
	if sh.Trouble, err = sh.trouble(ctx, s); err != nil {
		return err
	}
	if sh.Checks, err = s.Care.LastChecks(ctx, sh.To, sh.Filter.Simulated); err != nil {
		return err
	}
	if sh.Signed, err = s.Floor.Handovers(ctx, sh.Name, sh.Day, sh.Filter.Simulated); err != nil {
		return err
	}
	if sh.Events, err = s.Lines.Events(ctx, sh.Filter); err != nil {
		return err
	}
	in(zone, sh.Stopped, func(l *LineStop) *time.Time { return &l.At })
	in(zone, sh.Overrides, func(o *lines.Override) *time.Time { return &o.At })
	in(zone, sh.Aborted, func(e *lines.Ended) *time.Time { return &e.At })
	in(zone, sh.Unfinished, func(e *lines.Ended) *time.Time { return &e.At })
	in(zone, sh.Open, func(u *lines.OpenUnit) *time.Time { return &u.Failed })
	in(zone, sh.Tags, func(o *fails.Owed) *time.Time { return &o.Started })
	in(zone, sh.Checks, func(c *care.LastCheck) *time.Time { return &c.At })
	in(zone, sh.Signed, func(h *floor.Handover) *time.Time { return &h.At })
	in(zone, sh.Events, func(e *lines.Event) *time.Time { return &e.At })
	return nil
}

// in tells the times of a list in a zone; of none they stay as they are.
func in[T any](zone *time.Location, list []T, at func(*T) *time.Time) {
	if zone == nil {
		return
	}
	for i := range list {
		t := at(&list[i])
		*t = t.In(zone)
	}
}

func (sh Shift) words() []Sentence {
	out := []Sentence{Say("shift.is", sh.Name, sh.From, sh.To)}
	if sh.Total.Units == 0 {
		out = append(out, Say("yield.nothing"))
	} else {
		out = append(out, totalWords(sh.Total)...)
		out = append(out, sh.Stops.words()...)
	}
	for _, stop := range sh.Stopped {
		if stop.Lifted == nil {
			out = append(out, stop.Words())
		}
	}
	for _, j := range sh.Calibrations {
		for _, due := range []care.Due{j.Zero, j.Verify} {
			if due.Status == care.StatusOverdue || due.Status == care.StatusBad {
				out = append(out, Warn("shift.notgood", j.Jig, Word("standing."+string(due.Status))))
			}
		}
	}
	out = append(out, Say("shift.opencount", len(sh.Open)))
	if len(sh.Tags) > 0 {
		out = append(out, Warn("shift.tags", len(sh.Tags)))
	}
	if len(sh.Signed) == 0 {
		out = append(out, Say("handover.nobody"))
	}
	return out
}
