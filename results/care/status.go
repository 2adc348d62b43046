package care

import (
	"context"
	"fmt"
	"math"
	"time"

	"padjig/results/floor"
	"padjig/sequence"
)

// CalibrationStatus is how a jig stands with one kind of calibration.
type CalibrationStatus string

// The statuses. Only a jig in the first two may be used for production.
const (
	StatusGood    CalibrationStatus = "good"
	StatusDueSoon CalibrationStatus = "due soon" // good, with less than a tenth of the interval left
	StatusOverdue CalibrationStatus = "overdue"
	StatusBad     CalibrationStatus = "out of tolerance"
	StatusNever   CalibrationStatus = "never"
)

// soonPart is the part of the interval before the due date in which to warn.
const soonPart = 10

// Due is how a jig stands with one kind of calibration.
type Due struct {
	Kind   sequence.CalibrationKind
	Status CalibrationStatus
	Last   *StoredCalibration // the last one, good or not; nil for never
}

// DueState is how a jig stands with both kinds.
type DueState struct{ Zero, Verify Due }

// Calibrated reports whether the jig was ever calibrated at all.
func (d DueState) Calibrated() bool { return d.Zero.Last != nil || d.Verify.Last != nil }

// DueState gives how a jig stands at a time; the last calibration of each kind counts.
func (s *Records) DueState(ctx context.Context, jig string, simulated bool, now time.Time) (DueState, error) {
	return s.DueAt(ctx, jig, simulated, math.MaxInt64, now)
}

// DueAt gives how a jig stood at a time when run was the newest one.
func (s *Records) DueAt(ctx context.Context, jig string, simulated bool, run int64, now time.Time) (DueState, error) {
	var d DueState
	for kind, due := range map[sequence.CalibrationKind]*Due{
		sequence.KindZero: &d.Zero, sequence.KindVerify: &d.Verify,
	} {
		last, err := s.calibrations(ctx, jig, `
			SELECT seq FROM calibration JOIN jig USING (jig)
			WHERE jig.serial = ? AND simulated = ? AND kind = ? AND after_run <= ? ORDER BY after_run DESC, seq DESC LIMIT 1`,
			jig, simulated, string(kind), run)
		if err != nil {
			return d, err
		}
		*due = statusOf(kind, last, now)
	}
	return d, nil
}

func statusOf(kind sequence.CalibrationKind, last []StoredCalibration, now time.Time) Due {
	if len(last) == 0 {
		return Due{Kind: kind, Status: StatusNever}
	}
	d := Due{Kind: kind, Status: StatusGood, Last: &last[0]}
	switch left := d.Last.Due().Sub(now); {
	case !d.Last.Good:
		d.Status = StatusBad
	case left <= 0:
		d.Status = StatusOverdue
	case left < d.Last.Interval/soonPart:
		d.Status = StatusDueSoon
	}
	return d
}

// Holds reports whether the last calibration of the kind may be gone by.
func (d Due) Holds() bool { return d.Status == StatusGood || d.Status == StatusDueSoon }

// Said says it for a person, without saying which jig.
func (d Due) Said(clock floor.Clock) string {
	switch d.Status {
	case StatusNever:
		return fmt.Sprintf("has never had a %s", d.Kind.Word())
	case StatusBad:
		return fmt.Sprintf("failed its last %s on %s (%s)", d.Kind.Word(), clock.Day(d.Last.Performed), d.Last.Reason)
	case StatusOverdue:
		return fmt.Sprintf("has a %s overdue since %s", d.Kind.Word(), clock.Day(d.Last.Due()))
	}
	return fmt.Sprintf("needs its next %s by %s", d.Kind.Word(), clock.Day(d.Last.Due()))
}
