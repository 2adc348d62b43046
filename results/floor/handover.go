package floor

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"padjig/results/store"
)

// Handover is an incoming lead's signature under a shift.
type Handover struct {
	Shift     string
	Day       string // on which the shift began, 2026-03-02
	Simulated bool
	By, Note  string
	At        time.Time
}

// SaveHandover records that somebody took a shift over.
func (s *Records) SaveHandover(ctx context.Context, h Handover) error {
	return s.db.Insert(ctx, fmt.Sprintf("the handover of shift %s of %s", h.Shift, h.Day), `
		INSERT INTO handover (seq, shift, day, simulated, after_run, by, note, at_us)
		SELECT (SELECT coalesce(max(seq), 0) + 1 FROM handover), ?, ?, ?,
		       (SELECT coalesce(max(seq), 0) FROM run), ?, ?, ?`,
		h.Shift, h.Day, h.Simulated, h.By, h.Note, s.db.Now().UnixMicro())
}

// Handovers gives the signatures under a shift, oldest first.
func (s *Records) Handovers(ctx context.Context, shift, day string, simulated bool) ([]Handover, error) {
	return store.List(ctx, s.db, "look up handovers", func(rows *sql.Rows) (h Handover, err error) {
		return h, rows.Scan(&h.Shift, &h.Day, &h.Simulated, &h.By, &h.Note, store.Time(&h.At))
	}, `SELECT shift, day, simulated, by, note, at_us FROM handover
	    WHERE shift = ? AND day = ? AND simulated = ? ORDER BY after_run, seq`, shift, day, simulated)
}

// When gives a shift's time on a day; false for a shift that the plan does not have on it.
func (p ShiftPlan) When(name, day string) (from, to time.Time, ok bool, err error) {
	zone, err := time.LoadLocation(p.Zone)
	if err != nil {
		return from, to, false, err
	}
	at, err := time.ParseInLocation("2006-01-02", day, zone)
	if err != nil {
		return from, to, false, fmt.Errorf("%q is no day such as 2026-03-02", day)
	}
	for _, s := range p.Shifts {
		if s.Name == name && s.Days.On(at.Weekday()) {
			from, to = s.span(at)
			return from, to, true, nil
		}
	}
	return from, to, false, nil
}

// Names lists the shifts of the plan.
func (p ShiftPlan) Names() string {
	return strings.Join(store.Each(p.Shifts, func(s Shift) string { return s.Name }), ", ")
}
