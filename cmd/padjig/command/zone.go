package command

import (
	"context"
	"fmt"
	"time"

	"padjig/results"
)

// PlantZone is the zone that times are said in: the one that is named, else that of the
// shifts, else this computer's. There is one only, so a name that is not that of the shifts
// is refused.
func PlantZone(ctx context.Context, store *results.Store, name string) (*time.Location, error) {
	zone := time.Local
	if name != "" {
		var err error
		if zone, err = time.LoadLocation(name); err != nil || name == time.Local.String() {
			return nil, WrongUsef("--zone %s: no such time zone is known: write one such as Europe/Berlin", name)
		}
	}
	plan, err := store.Floor.Shifts(ctx)
	if err != nil {
		return nil, RecordsFailed(store, err)
	}
	if plan == nil {
		return zone, nil
	}
	if name != "" && name != plan.Zone {
		return nil, Fail(Wrong, fmt.Errorf("--zone %s: the shifts of these records are in %s, and a plant has one clock", name, plan.Zone),
			"leave --zone out, or set the shifts anew: padjig quality shift --plan-zone "+name)
	}
	zone, err = time.LoadLocation(plan.Zone)
	if err != nil {
		return nil, RecordsFailed(store, fmt.Errorf("the zone of the shifts: %w", err))
	}
	return zone, nil
}
