// Package diary logs what becomes of a lane: its jig there and lost, what it refuses, what is
// stored and how long that takes. A lane tells it of each change while it holds its state, and a
// line of the log waits for nobody, so nothing here holds the lane up.
package diary

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"time"

	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/note"
	"padjig/fixture/caught"
	"padjig/sequence"
)

// SlowSave is how long storing a run may take before it is logged: whoever tests one unit after
// another notices it then (common practice, no source).
const SlowSave = time.Second

// Of is what a lane, from 1, is given to tell: see [station.Setup.Told].
func Of(logger *slog.Logger, lane int) func(before, after *station.State) {
	d := &diary{log: logger.With("lane", lane)}
	return d.told
}

type diary struct {
	log     *slog.Logger
	storing time.Time   // since when a run is being stored
	late    *time.Timer // logs that it takes long, while it does
}

func (d *diary) told(before, after *station.State) {
	d.jig(before.Jig, after.Jig)
	if before.Phase != after.Phase {
		d.log.Debug(log.LaneChanged, "from", string(before.Phase), "to", string(after.Phase), "unit", unitOf(after))
	}
	if r := after.Refusal; after.Phase == station.Refused && r != nil && r != before.Refusal {
		d.refused(after.Unit, r)
	}
	if n := after.Note; n != nil && n != before.Note && slices.Contains(nothingDone, n.Code) {
		d.log.Info(log.UnitRefused, "code", string(n.Code), "in hand", unitOf(after))
	}
	d.store(before, after)
}

// refused logs a refusal. What is no serial number may be anything that was typed, a password
// too: it is not logged, nor what says it.
func (d *diary) refused(unit sequence.Unit, r *station.Refusal) {
	attrs := []any{"code", string(r.Code), "who", unit.Operator}
	if !slices.Contains(noSerial, r.Code) {
		attrs = append(attrs, "unit", unit.Serial, "why", r.Error())
	}
	d.log.Warn(log.UnitRefused, attrs...)
}

// unitOf is the unit in hand, empty where it is no serial number.
func unitOf(s *station.State) string {
	if s.Refusal != nil && slices.Contains(noSerial, s.Refusal.Code) {
		return ""
	}
	return s.Unit.Serial
}

// noSerial are the refusals of what is no serial number of the product.
var noSerial = []station.Code{station.SerialWrong, station.SerialMisread, station.OtherProduct}

// nothingDone are the notes by which a lane says that what was asked is not done.
var nothingDone = []note.Code{note.Twice, note.Busy, note.NotNow, note.Shut, note.NoStart}

func (d *diary) jig(before, after station.JigState) {
	switch {
	case after.Present && !before.Present:
		d.log.Info(log.JigThere, "jig", after.Serial, "port", after.Port, "model", after.Model,
			"firmware", after.Firmware, "simulated", after.Simulated)
	case after.Present:
	case fell(after.Why) != nil:
		if before.Why == nil || before.Why.Error() != after.Why.Error() {
			d.log.Error(log.LaneFell, "jig", cmp.Or(after.Serial, after.Name), "why", after.Why.Error(), "stack", string(fell(after.Why).Stack))
		}
	case after.Why == nil && before.Present: // the station ends
		d.log.Info(log.JigLeft, "jig", cmp.Or(after.Serial, after.Name))
	case after.Why != nil && (before.Present || fmt.Sprint(before.Why) != after.Why.Error()):
		d.log.Warn(log.JigLost, "jig", cmp.Or(after.Serial, after.Name), "why", after.Why.Error())
	}
}

// fell is the panic for which a jig is not there, nil where that is for something else.
func fell(why error) *caught.Panicked {
	p, _ := errors.AsType[*caught.Panicked](why)
	return p
}

func (d *diary) store(before, after *station.State) {
	if after.Phase == station.Storing && before.Phase != station.Storing {
		unit := after.Unit.Serial
		d.storing = time.Now()
		d.late = time.AfterFunc(SlowSave, func() {
			d.log.Warn(log.SaveSlow, "unit", unit, "limit", SlowSave.String(), "over", false)
		})
		return
	}
	if before.Phase != station.Storing || after.Phase == station.Storing {
		return
	}
	d.late.Stop()
	took := time.Since(d.storing)
	if took >= SlowSave {
		d.log.Warn(log.SaveSlow, "unit", after.Unit.Serial, "limit", SlowSave.String(), "over", true, "took", took.String())
	}
	if v := after.Verdict; v != nil && after.Phase == station.Ended && d.log.Enabled(context.Background(), slog.LevelInfo) {
		d.log.Info(log.RunStored, "unit", v.Serial, "run", v.ID.String(), "outcome", string(v.Outcome), "attempt", v.Attempt,
			"who", v.Operator, "jig", v.Jig.Serial, "simulated", v.Simulated, "took", took.String())
	}
}
