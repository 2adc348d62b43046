package bench

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/results/care"
	"padjig/results/runs"
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
		return refuse(Wrong, err, try("number like", p.Serial.Example()), SerialWrong, serial, p.Serial.Example())
	}
	return nil
}

// Condition is something about a jig that a person should know before it stops
// a unit, or that stops units already.
type Condition struct {
	Warning
	Blocks bool          // no unit is tested until it is mended
	Remedy sequence.Said // for a person at a terminal
}

// refusal is a condition that blocks, as an error.
func (c Condition) refusal() error {
	return refuse(NotMeasured, fmt.Errorf("%s; nothing was tested", c.Text), c.Remedy, c.Code, c.Args...)
}

// heed warns of each condition, and refuses for the first that blocks.
func (j *Job) heed(list []Condition) error {
	for _, c := range list {
		if c.Blocks {
			return c.refusal()
		}
		j.Watcher.Warn(c.Warning)
	}
	return nil
}

// Conditions are all there is to know of a jig before a unit is tested on it.
func (j *Job) Conditions(ctx context.Context, caps fixture.Capabilities, now time.Time) ([]Condition, error) {
	worn, err := j.worn(ctx, caps)
	if err != nil {
		return nil, err
	}
	references, err := j.references(ctx, caps, now)
	if err != nil {
		return nil, err
	}
	_, dues, err := j.dues(ctx, caps, now)
	return slices.Concat(dues, references, worn), err
}

// fit refuses a jig that must not be used for production now: parts worn out, or
// reference units overdue. What is only near its limit is said.
func (j *Job) fit(ctx context.Context, caps fixture.Capabilities, now time.Time) error {
	worn, err := j.worn(ctx, caps)
	if err != nil {
		return err
	}
	if err := j.heed(worn); err != nil {
		return err
	}
	if _, reference := j.Product.Reference(j.Serial); reference {
		return nil
	}
	references, err := j.references(ctx, caps, now)
	if err != nil {
		return err
	}
	return j.heed(references)
}

func (j *Job) worn(ctx context.Context, caps fixture.Capabilities) ([]Condition, error) {
	worn, err := j.Store.Care.WornParts(ctx, caps.Serial)
	if err != nil {
		return nil, j.noRecords(err)
	}
	var list []Condition
	for _, part := range worn {
		args := []string{part.Part, fmt.Sprint(part.Uses), fmt.Sprint(part.Block)}
		said := fmt.Sprintf("%s of jig %s has been used %d times, limit %d", part.Part, caps.Serial, part.Uses, part.Block)
		if part.Worn() {
			list = append(list, Condition{Warning{PartWorn, args, said}, true, try("replace part", caps.Serial, part.Part)})
		} else {
			list = append(list, Condition{Warning: Warning{PartWearing, args, said + ": replace it soon"}})
		}
	}
	return list, nil
}

// references are the reference units that the product demands and that are
// overdue on this jig, did not show what they must, or are due soon.
func (j *Job) references(ctx context.Context, caps fixture.Capabilities, now time.Time) ([]Condition, error) {
	refs := j.Product.References
	if refs == nil {
		return nil, nil
	}
	var list []Condition
	for _, unit := range ReferenceUnits(refs) {
		state, err := j.Store.Care.Reference(ctx, caps.Serial, unit, caps.Simulated)
		if err != nil {
			return nil, j.noRecords(err)
		}
		if why := Overdue(refs, state, now); why != "" {
			list = append(list, Condition{Warning{referenceCode(state), []string{unit},
				fmt.Sprintf("reference unit %s %s on jig %s", unit, why, caps.Serial)},
				true, try("reference unit", unit)})
		} else if left := nearlyDue(refs, state, now); left != "" {
			list = append(list, Condition{Warning: Warning{ReferenceSoon, []string{unit, left},
				fmt.Sprintf("reference unit %s is due soon on jig %s: %s left", unit, caps.Serial, left)}})
		}
	}
	return list, nil
}

// nearlyDue says what is left of a reference unit's interval when that is less
// than a tenth of it, empty otherwise.
func nearlyDue(refs *product.References, state care.ReferenceState, now time.Time) string {
	left := refs.Every - now.Sub(state.Last.Started)
	units := refs.Units - state.Since
	switch {
	case refs.Every > 0 && left < refs.Every/10:
		return left.Round(time.Minute).String()
	case refs.Units > 0 && units*10 < refs.Units:
		return fmt.Sprint(units)
	}
	return ""
}

func referenceCode(state care.ReferenceState) Code {
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
func Overdue(refs *product.References, state care.ReferenceState, now time.Time) string {
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
func (j *Job) judgeReference(ctx context.Context, stored runs.Stored) (*care.ReferenceCheck, error) {
	bad, reference := j.Product.Reference(j.Serial)
	if !reference || j.Study || stored.Outcome == sequence.Aborted || stored.Outcome == sequence.HarnessGood {
		return nil, nil // it says nothing of the keys; the check before stands, and what is due stays due
	}
	baseline, err := j.Store.Care.Baseline(ctx, stored.Jig.Serial, j.Serial, stored.Simulated)
	if err != nil {
		return nil, j.noRecords(err)
	}
	check := &care.ReferenceCheck{
		Run: stored.ID, Unit: j.Serial, Bad: bad != nil, Why: sequence.JudgeReference(j.Product, stored.Run, baseline),
	}
	if err := j.Store.Care.SaveReferenceCheck(ctx, *check); err != nil {
		return nil, j.notRecorded(err, try("reference again"))
	}
	return check, nil
}

// Calibrated refuses a jig whose calibration does not hold now, and gives the
// zeros to take off its readings. A simulated jig may be used uncalibrated.
func (j *Job) Calibrated(ctx context.Context, caps fixture.Capabilities, now time.Time) ([]fixture.Resistance, error) {
	zeros, list, err := j.dues(ctx, caps, now)
	if err != nil {
		return nil, err
	}
	return zeros, j.heed(list)
}

// dues are the calibrations that do not hold, or not for long.
func (j *Job) dues(ctx context.Context, caps fixture.Capabilities, now time.Time) (
	zeros []fixture.Resistance, list []Condition, err error) {
	state, err := j.Store.Care.DueState(ctx, caps.Serial, caps.Simulated, now)
	if err != nil {
		return nil, nil, j.noRecords(err)
	}
	for _, due := range []care.Due{state.Zero, state.Verify} {
		if c, stands := conditionOf(due, caps); stands {
			list = append(list, c)
		}
	}
	if state.Zero.Last != nil {
		zeros = state.Zero.Last.Zeros()
	}
	return zeros, list, nil
}

// conditionOf says how a jig stands with one kind of calibration, where there
// is anything to say.
func conditionOf(due care.Due, caps fixture.Capabilities) (c Condition, stands bool) {
	said, kind := fmt.Sprintf("jig %s %s", caps.Serial, due), string(due.Kind)
	remedy, mend := try("zero", caps.Serial), try("mend, zero", caps.Serial)
	if due.Kind == sequence.KindVerify {
		remedy, mend = try("verify", caps.Serial), try("mend, verify", caps.Serial)
	}
	code := CalibrationDue
	switch due.Status {
	case care.StatusGood:
		return c, false
	case care.StatusDueSoon:
		until := due.Last.Due().Local().Format(time.DateOnly)
		return Condition{Warning: Warning{CalibrationSoon, []string{kind, until}, said}}, true
	case care.StatusNever:
		if caps.Simulated {
			return c, false
		}
		code = NotCalibrated
		remedy = try("zero and verify", caps.Serial)
	case care.StatusBad:
		code, remedy = CalibrationBad, mend
	}
	return Condition{Warning{code, []string{kind}, said}, true, remedy}, true
}
