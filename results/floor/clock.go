package floor

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"padjig/results/store"
)

// The forms of a time for people: there are no others.
const (
	MinuteForm = "2006-01-02 15:04"     // where the zone stands beside it, or above
	ZonedForm  = MinuteForm + " MST"    // by itself
	ExactForm  = time.DateTime + " MST" // by itself, to the second
)

// Clock is the plant's: by it every surface says a time. The zero value is that of UTC.
type Clock struct{ zone *time.Location }

// ClockOf is the clock of a zone.
func ClockOf(zone *time.Location) Clock { return Clock{zone} }

// Zone is where the clock stands.
func (c Clock) Zone() *time.Location { return cmp.Or(c.zone, time.UTC) }

// Minute is day and time, where the zone stands beside it.
func (c Clock) Minute(t time.Time) string { return t.In(c.Zone()).Format(MinuteForm) }

// Zoned is day and time with the zone.
func (c Clock) Zoned(t time.Time) string { return t.In(c.Zone()).Format(ZonedForm) }

// Exact is day and time to the second, with the zone.
func (c Clock) Exact(t time.Time) string { return t.In(c.Zone()).Format(ExactForm) }

// Day is the day of a time.
func (c Clock) Day(t time.Time) string { return t.In(c.Zone()).Format(time.DateOnly) }

// Hour is the time of day, where the zone stands beside it.
func (c Clock) Hour(t time.Time) string { return t.In(c.Zone()).Format("15:04") }

// Since is when something was that is short ago: the time of day, with the day where that
// is not today.
func (c Clock) Since(t, now time.Time) string {
	if c.Day(t) == c.Day(now) {
		return t.In(c.Zone()).Format(time.TimeOnly)
	}
	return c.Minute(t)
}

// ErrZone is returned for a zone that no database of time zones knows, or that means
// another one on each computer.
var ErrZone = errors.New("no such time zone is known: write one such as Europe/Vienna")

// ParseZone reads the name of a zone.
func ParseZone(name string) (*time.Location, error) {
	zone, err := time.LoadLocation(name)
	if err != nil || name == "" || name == "Local" {
		return nil, fmt.Errorf("%q: %w", name, ErrZone)
	}
	return zone, nil
}

// zoneKept is the zone of the shifts, else the one that was said last.
const zoneKept = `
	SELECT zone FROM (SELECT zone, 1 AS which, plan AS newest FROM shift
	                  UNION ALL SELECT zone, 2, seq FROM plant_zone) AS said
	ORDER BY which, newest DESC LIMIT 1`

// ZoneIn is the plant's zone inside a transaction: that of the shifts, else the one that
// was said last, else this computer's.
func ZoneIn(ctx context.Context, tx *sql.Tx) (*time.Location, error) {
	var name string
	if found, err := store.RowOf(ctx, tx, zoneKept, nil, &name); err != nil || !found {
		return time.Local, err
	}
	return time.LoadLocation(name)
}

// Clock is the one that the shifts go by.
func (p ShiftPlan) Clock() Clock {
	zone, err := ParseZone(p.Zone)
	if err != nil { // no such plan is kept
		return Clock{}
	}
	return ClockOf(zone)
}

// Clock gives the plant's clock.
func (s *Records) Clock(ctx context.Context) (c Clock, err error) {
	err = s.db.Ask(ctx, "look up the plant's time zone", func(tx *sql.Tx) error {
		zone, err := ZoneIn(ctx, tx)
		c = ClockOf(zone)
		return err
	})
	return c, err
}

// Zone is the name of the plant's zone, empty where nobody said one.
func (s *Records) Zone(ctx context.Context) (name string, err error) {
	err = s.db.Ask(ctx, "look up the plant's time zone", func(tx *sql.Tx) error {
		_, err := store.RowOf(ctx, tx, zoneKept, nil, &name)
		return err
	})
	return name, err
}

// SaveZone keeps in which zone the plant is, from the station on which it was said; what
// is known already is not kept again. Once there are shifts theirs holds.
func (s *Records) SaveZone(ctx context.Context, name string) error {
	if _, err := ParseZone(name); err != nil {
		return err
	}
	return s.db.Save(ctx, "save the plant's time zone", func(tx *sql.Tx) error {
		var known string
		if _, err := store.RowOf(ctx, tx, zoneKept, nil, &known); err != nil || known == name {
			return err
		}
		e := store.Entry{Table: "plant_zone"}
		e.Set("zone", name)
		e.Set("host", store.ThisStation().Host)
		e.Set("at_us", s.db.Now())
		_, err := e.Insert(ctx, tx)
		return err
	})
}
