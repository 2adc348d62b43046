// Package backups has a station back up its records from time to time, beside its lanes: no unit waits for it.
package backups

import (
	"context"
	"slices"
	"time"
)

// Plan is when backups are taken.
type Plan struct {
	Every time.Duration   // from one to the next; 0: at times of the day
	At    []time.Duration // of the plant's day, after midnight
	Zone  *time.Location  // of the plant
}

// retry is how long after a failure the next attempt is made, unless one is due sooner.
const retry = 15 * time.Minute

// Due is when the next backup is to be taken: after the last whole one, the zero time where there is none,
// and after a failure that came later than that, zero where there is none. It is never further away
// than the plan says, whatever a clock that was set back makes of the last one.
func (p Plan) Due(whole, failed, now time.Time) time.Time {
	due := now
	if !whole.IsZero() {
		due = p.after(earlier(whole, now))
	}
	if failed.After(whole) {
		if again := earlier(failed, now).Add(retry); due.Before(again) {
			due = again
		}
	}
	return due
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// after is the first time of the plan after another.
func (p Plan) after(last time.Time) time.Time {
	if p.Every > 0 {
		return last.Add(p.Every)
	}
	local := last.In(p.Zone)
	at := slices.Sorted(slices.Values(p.At))
	for day := 0; ; day++ {
		for _, of := range at {
			hour, minute := int(of/time.Hour), int(of%time.Hour/time.Minute)
			// On a day without this hour it is the one after it.
			next := time.Date(local.Year(), local.Month(), local.Day()+day, hour, minute, 0, 0, p.Zone)
			if next.After(last) {
				return next
			}
		}
	}
}

// Keeper takes backups by a plan.
type Keeper struct {
	Plan Plan
	// Past says when the last whole backup was taken, and when one failed after it; zero for never.
	Past func(ctx context.Context) (whole, failed time.Time, err error)
	// Take takes one, and keeps in the records what came of it.
	Take func(ctx context.Context) error
	// Failed is told of what went wrong.
	Failed func(ctx context.Context, err error)
}

const (
	atStart = time.Minute // jigs are found and pages asked for first
	look    = time.Minute // a computer may sleep, and its clock be set: neither is known of a longer wait
)

// Run takes backups until ctx ends. One that is under way then is given up and leaves nothing.
func (k Keeper) Run(ctx context.Context) {
	wait := time.NewTimer(atStart)
	defer wait.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-wait.C:
		}
		k.attempt(ctx)
		wait.Reset(look)
	}
}

func (k Keeper) attempt(ctx context.Context) {
	whole, failed, err := k.Past(ctx)
	if err == nil {
		now := time.Now()
		if k.Plan.Due(whole, failed, now).After(now) {
			return
		}
		err = k.Take(ctx)
	}
	if err != nil && ctx.Err() == nil {
		k.Failed(ctx, err)
	}
}
