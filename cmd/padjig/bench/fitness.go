package bench

import (
	"context"
	"fmt"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/results"
	"padjig/sequence"
	"padjig/sequence/product"
)

// AdmitSerial refuses a serial number that is neither of the product's form nor
// one of its reference units.
func AdmitSerial(p *product.Product, serial string) error {
	if _, reference := p.Reference(serial); reference {
		return nil
	}
	if err := p.Serial.Check(serial); err != nil {
		return refuse(Wrong, err, "a number like "+p.Serial.Example(), SerialWrong, serial, p.Serial.Example())
	}
	return nil
}

// fit refuses a jig that must not be used for production now: parts worn out, or
// reference units overdue. What is only near its limit is said.
func (j *Job) fit(ctx context.Context, caps fixture.Capabilities, now time.Time) error {
	worn, err := j.Store.WornParts(ctx, caps.Serial)
	if err != nil {
		return j.noRecords(err)
	}
	for _, part := range worn {
		args := []string{part.Part, fmt.Sprint(part.Uses), fmt.Sprint(part.Block)}
		said := fmt.Sprintf("%s of jig %s has been used %d times, limit %d", part.Part, caps.Serial, part.Uses, part.Block)
		if part.Worn() {
			return refuse(NotMeasured, fmt.Errorf("%s; nothing was tested", said), fmt.Sprintf(
				"replace it, then: padjig jig wear %s --replaced %q --by NAME", caps.Serial, part.Part), PartWorn, args...)
		}
		j.Watcher.Warn(Warning{PartWearing, args, said + ": replace it soon"})
	}
	return j.referencesShown(ctx, caps, now)
}

// referencesShown refuses production units while a reference unit that the
// product demands is overdue on this jig, or did not show what it must.
func (j *Job) referencesShown(ctx context.Context, caps fixture.Capabilities, now time.Time) error {
	refs := j.Product.References
	if _, reference := j.Product.Reference(j.Serial); reference || refs == nil {
		return nil
	}
	for _, unit := range ReferenceUnits(refs) {
		state, err := j.Store.Reference(ctx, caps.Serial, unit, caps.Simulated)
		if err != nil {
			return j.noRecords(err)
		}
		if why := Overdue(refs, state, now); why != "" {
			return refuse(NotMeasured,
				fmt.Errorf("reference unit %s %s on jig %s; nothing was tested", unit, why, caps.Serial),
				"put "+unit+" into the jig and test it: --serial "+unit, referenceCode(state), unit)
		}
	}
	return nil
}

func referenceCode(state results.ReferenceState) Code {
	if state.Last != nil && !state.Last.Good {
		return ReferenceBad
	}
	return ReferenceDue
}

// ReferenceUnits are the serial numbers of all reference units that a product demands.
func ReferenceUnits(refs *product.References) []string {
	units := append([]string{}, refs.Good...)
	for _, bad := range refs.Bad {
		units = append(units, bad.Serial)
	}
	return units
}

// Overdue says why a reference unit must be tested now, empty if it need not.
func Overdue(refs *product.References, state results.ReferenceState, now time.Time) string {
	switch {
	case state.Last == nil:
		return "was never tested"
	case !state.Last.Good:
		return "did not show what it must (" + firstLine(state.Last.Why) + ")"
	case refs.Every > 0 && now.Sub(state.Last.Started) > refs.Every:
		return fmt.Sprintf("is due: %s, last %s ago", refs, now.Sub(state.Last.Started).Round(time.Minute))
	case refs.Units > 0 && state.Since >= refs.Units:
		return fmt.Sprintf("is due: %s, %d since", refs, state.Since)
	}
	return ""
}

func firstLine(text string) string {
	line, _, _ := strings.Cut(text, "\n")
	return line
}

// judgeReference judges and records a stored run over a reference unit; nil if
// the unit is none.
func (j *Job) judgeReference(ctx context.Context, stored results.Stored) (*results.ReferenceCheck, error) {
	bad, reference := j.Product.Reference(j.Serial)
	if !reference || stored.Outcome == sequence.Aborted {
		return nil, nil
	}
	baseline, err := j.Store.Baseline(ctx, stored.Jig.Serial, j.Serial, stored.Simulated)
	if err != nil {
		return nil, j.noRecords(err)
	}
	check := &results.ReferenceCheck{
		Run: stored.ID, Unit: j.Serial, Bad: bad != nil, Why: sequence.JudgeReference(j.Product, stored.Run, baseline),
	}
	if err := j.Store.SaveReferenceCheck(ctx, *check); err != nil {
		return nil, refuse(NotRecorded, err, "test the reference unit again when the records are in order", NoRecords)
	}
	return check, nil
}

// Calibrated refuses a jig whose calibration does not hold now, and gives the
// zeros to take off its readings. A simulated jig may be used uncalibrated.
func (j *Job) Calibrated(ctx context.Context, caps fixture.Capabilities, now time.Time) ([]fixture.Resistance, error) {
	state, err := j.Store.DueState(ctx, caps.Serial, caps.Simulated, now)
	if err != nil {
		return nil, j.noRecords(err)
	}
	for _, due := range []results.Due{state.Zero, state.Verify} {
		if err := admitDue(due, caps); err != nil {
			return nil, err
		}
		if due.Standing == results.StandsDueSoon {
			j.Watcher.Warn(Warning{CalibrationSoon, []string{string(due.Kind), due.Last.Due().Local().Format(time.DateOnly)},
				fmt.Sprintf("jig %s %s", caps.Serial, due)})
		}
	}
	if state.Zero.Last == nil {
		return nil, nil
	}
	return state.Zero.Last.Zeros(), nil
}

// admitDue refuses production on a jig for how it stands with one kind of calibration.
func admitDue(due results.Due, caps fixture.Capabilities) error {
	what := fmt.Errorf("jig %s %s; nothing was tested", caps.Serial, due)
	remedy := "with the shorting plug in the nest: padjig jig zero --jig " + caps.Serial
	if due.Kind == sequence.KindVerify {
		remedy = "with the reference box in the nest: padjig jig verify --jig " + caps.Serial + " --box FILE"
	}
	code := CalibrationDue
	switch due.Standing {
	case results.StandsGood, results.StandsDueSoon:
		return nil
	case results.StandsNever:
		if caps.Simulated {
			return nil
		}
		code = NotCalibrated
		remedy = "padjig jig zero --jig " + caps.Serial + " with the shorting plug in the nest, then padjig jig verify --jig " +
			caps.Serial + " --box FILE with the reference box in it"
	case results.StandsBad:
		code, remedy = CalibrationBad, "mend it, then "+remedy
	}
	return refuse(NotMeasured, what, remedy, code, string(due.Kind))
}
