package station

import (
	"context"
	"errors"

	"padjig/cmd/padjig/station/tower"
	"padjig/fixture"
)

// signal says how the lane stands to somebody who sees its tower alone.
func (s State) signal() tower.Signal {
	switch s.Phase {
	case Running, Storing, Exclusive, Changing:
		return tower.Working
	case Lid, Armed, Locked:
		return tower.Act
	case Refused:
		switch s.Refusal.Code {
		case EmergencyStop:
			return tower.Emergency
		case LineStopped, NoRecords, RecordsMoved, NoRoom:
			return tower.Abnormal
		}
		return tower.Act
	case Ended:
		return s.Verdict.signal()
	}
	switch {
	case s.Blocked() != nil:
		return tower.Abnormal
	case len(s.Owed) > 0:
		return tower.Act
	}
	return tower.Waiting
}

// signal of a stored run.
func (d Done) signal() tower.Signal {
	if d.Reference != nil && !errors.Is(d.Cause, fixture.ErrEmergency) {
		return tower.OfReference(d.Reference.Good())
	}
	return tower.OfRun(d.Run, errors.Is(d.Cause, fixture.ErrEmergency))
}

// light has the jig's tower show how the lane stands, until ctx ends.
func (l *loop) light(ctx context.Context, jig *fixture.Jig) {
	changes, stop := l.shown.notifier.Subscribe()
	defer stop()
	tower.Follow(ctx, jig, changes, func() tower.Signal { return l.shown.now().signal() })
}
