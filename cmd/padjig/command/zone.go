package command

import (
	"context"
	"fmt"
	"time"

	"padjig/results"
	"padjig/results/floor"
)

// PlantClock is the clock that times are said by: that of the shifts, else that of the zone
// which was said last, else this computer's.
func PlantClock(ctx context.Context, store *results.Store) (floor.Clock, error) {
	clock, err := store.Floor.Clock(ctx)
	if err != nil {
		return clock, RecordsFailed(store, err)
	}
	return clock, nil
}

// KeepZone keeps the plant's zone where one is named, for every command and page. There is
// one only, so a name that is not that of the shifts is refused.
func KeepZone(ctx context.Context, store *results.Store, name string) error {
	if name == "" {
		return nil
	}
	if _, err := floor.ParseZone(name); err != nil {
		return WrongUsef("--zone %w", err)
	}
	plan, err := store.Floor.Shifts(ctx)
	if err != nil {
		return RecordsFailed(store, err)
	}
	if plan != nil && name != plan.Zone {
		return Fail(Wrong, fmt.Errorf("--zone %s: the shifts of these records are in %s, and a plant has one clock", name, plan.Zone),
			"leave --zone out, or set the shifts anew: padjig quality shift --plan-zone "+name)
	}
	if err := store.Floor.SaveZone(ctx, name); err != nil {
		return RecordsFailed(store, err)
	}
	return nil
}

// DayOf reads a day that has come, by the plant's clock; now where none is said.
func DayOf(clock floor.Clock, flag, text string, now time.Time) (time.Time, error) {
	if text == "" {
		return now, nil
	}
	day, err := time.ParseInLocation(time.DateOnly, text, clock.Zone())
	if err != nil || day.After(now) {
		return now, WrongUsef("--%s %q: write a day that has come, such as %s", flag, text, clock.Day(now))
	}
	return day, nil
}
