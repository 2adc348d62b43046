package choice

import (
	"context"
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/results"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/sequence"
)

// Span is a time that goes on to now: it is another one tomorrow.
type Span string

// The spans there are, beside any number of days such as 14d.
const (
	Today     Span = "today"
	ThisShift Span = "shift"
	ThisLot   Span = "lot" // since the last lot change
	Ever      Span = All
	Usual     Span = "7d"
	Month     Span = "30d"
)

// Spans lists those that are offered.
var Spans = []Span{Today, ThisShift, ThisLot, Usual, Month, Ever}

// mostDays of a span.
const mostDays = 9999

// ParseSpan reads a span; nothing is none.
func ParseSpan(text string) (Span, error) {
	s := Span(strings.TrimSpace(text))
	if s == "" || slices.Contains(Spans, s) || s.Days() > 0 {
		return s, nil
	}
	return "", sequence.Wrong("span", "%s %q: write today, shift, lot, all, or days such as 7d", Since, text)
}

// Days is how many days it has, today as the last; 0 for one that is not so many days.
func (s Span) Days() int {
	digits, days := strings.CutSuffix(string(s), "d")
	n, err := strconv.Atoi(digits)
	if !days || err != nil || n < 1 || n > mostDays || strconv.Itoa(n) != digits {
		return 0
	}
	return n
}

// ErrNoShift is why there is no time that is this shift's.
var ErrNoShift = errors.New("no shifts are set, so that there is no shift now: choose days")

// dayOf is the midnight with which a day of a zone begins.
func dayOf(at time.Time, zone *time.Location) time.Time {
	y, m, d := at.In(zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, zone)
}

// begins is when a span began; zero for one that is open.
func (s Span) begins(ctx context.Context, store *results.Store, f lines.Filter, now time.Time) (time.Time, error) {
	switch {
	case s == Today:
		return dayOf(now, f.Zone), nil
	case s == ThisShift:
		plan, err := store.Floor.Shifts(ctx)
		if err == nil && plan == nil {
			err = ErrNoShift
		}
		if err != nil {
			return time.Time{}, err
		}
		return shiftAt(*plan, now)
	case s == ThisLot:
		return lastChange(ctx, store, f)
	case s.Days() > 0:
		return dayOf(now, f.Zone).AddDate(0, 0, 1-s.Days()), nil
	}
	return time.Time{}, nil
}

// before is the time that a span is compared with: as long, and cut at the same hour, so
// that half a day is not held against a whole one.
func (s Span) before(f lines.Filter, now time.Time) (from, to time.Time) {
	until := f.To
	if until.IsZero() {
		until = now
	}
	days := s.Days()
	if s == Today || s == ThisShift {
		days = 1
	}
	if days > 0 && f.To.IsZero() {
		return f.From.In(f.Zone).AddDate(0, 0, -days), until.In(f.Zone).AddDate(0, 0, -days)
	}
	return f.From.Add(-until.Sub(f.From)), f.From
}

// shiftAt is when the shift of a moment began; between shifts it is the last one.
func shiftAt(plan floor.ShiftPlan, now time.Time) (newest time.Time, err error) {
	zone, err := time.LoadLocation(plan.Zone)
	if err != nil {
		return newest, err
	}
	for _, shift := range plan.Shifts {
		for back := range 2 {
			from, _, _, err := plan.When(shift.Name, now.In(zone).AddDate(0, 0, -back).Format("2006-01-02"))
			if err != nil {
				return newest, err
			}
			if !from.After(now) && from.After(newest) {
				newest = from
			}
		}
	}
	return newest, nil
}

// lastChange is when the lot of any material was changed last, on the jigs chosen; zero
// for never.
func lastChange(ctx context.Context, store *results.Store, f lines.Filter) (at time.Time, err error) {
	f.From, f.To = time.Time{}, time.Time{}
	all, err := store.Lines.Events(ctx, f, lines.LotChanged)
	for _, e := range all {
		if e.At.After(at) {
			at = e.At
		}
	}
	return at, err
}
