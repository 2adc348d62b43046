package station

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"time"

	"padjig/fixture"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/results/notices"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Fitness is how a jig stands by the records, and whether units of a product are tested on it.
type Fitness struct {
	Records
	Product *product.Product
	Caps    fixture.Capabilities
	Now     time.Time
}

// Condition is something about a jig that a person should know before it stops
// a unit, or that stops units already.
type Condition struct {
	Warning
	Blocks bool          // no unit is tested until it is mended
	Remedy sequence.Said // for a person at a terminal
	Stop   int64         // number of the stop that it is; 0 for others
	Unit   string        // that the stop holds for; empty: the line
}

// refusal is a condition that blocks, as an error.
func (c Condition) refusal() error {
	if c.Stop > 0 { // its code says all
		return &Refusal{Kind: NotMeasured, Code: c.Code, Args: c.Args, Remedy: c.Remedy, Stop: &c}
	}
	return refuse(NotMeasured, fmt.Errorf("%s; nothing was tested", c.Text), c.Remedy, c.Code, c.Args...)
}

// checkConditions warns of each condition, and refuses for the first that blocks.
func checkConditions(list []Condition, warn func(Warning)) error {
	for _, c := range list {
		if c.Blocks {
			return c.refusal()
		}
		warn(c.Warning)
	}
	return nil
}

// Conditions are all there is to know of a jig before a unit is tested on it.
func (f Fitness) Conditions(ctx context.Context) ([]Condition, error) {
	stopped := func(ctx context.Context) ([]Condition, error) { return f.stopped(ctx, "") }
	dues := func(ctx context.Context) (list []Condition, err error) { _, list, err = f.dues(ctx); return list, err }
	return each(ctx, stopped, f.plant, f.adapter, dues, f.references, f.worn)
}

// each takes one look after another, up to one that fails.
func each(ctx context.Context, looks ...func(context.Context) ([]Condition, error)) (list []Condition, err error) {
	for _, look := range looks {
		found, err := look(ctx)
		if err != nil {
			return nil, err
		}
		list = append(list, found...)
	}
	return list, nil
}

// fit refuses a jig that must not be used for production now: the line is stopped, the plant decided what this station
// does not have, another adapter, parts worn out, or reference units overdue. What is only near its limit is said.
func (f Fitness) fit(ctx context.Context, job Job, warn func(Warning)) error {
	if err := f.running(ctx, job); err != nil {
		return err
	}
	looks := []func(context.Context) ([]Condition, error){f.adapter, f.worn}
	if !job.unreleased() {
		looks = append(looks, f.plant)
	}
	if !job.isReference() && !job.Engineering { // which is no production, and may try other reference units
		looks = append(looks, f.references)
	}
	list, err := each(ctx, looks...)
	return cmp.Or(err, checkConditions(list, warn))
}

// plant is what the plant says that a person should know, or that keeps the product from being tested.
func (f Fitness) plant(ctx context.Context) (list []Condition, err error) {
	said, err := f.Store.Notices.Said(ctx, notices.About{Product: f.Product.Code, Jig: f.Caps.Serial, Units: f.Product.References.All(), Now: f.Now})
	for _, s := range said {
		list = append(list, Condition{Warning: Warning{Code(s.Code), s.Args, s.Text}, Blocks: s.Blocks, Remedy: try(sequence.Code(s.Code), s.Args...)})
	}
	return list, f.unreadOr(err)
}

func (f Fitness) worn(ctx context.Context) (list []Condition, err error) {
	worn, err := f.Store.Care.WornParts(ctx, f.Caps.Serial, f.Caps.Simulated)
	for _, part := range worn {
		args := []string{part.Part, fmt.Sprint(part.Uses), fmt.Sprint(part.Block)}
		said := fmt.Sprintf("%s of jig %s has been used %d times, limit %d", part.Part, f.Caps.Serial, part.Uses, part.Block)
		if part.Worn() {
			list = append(list, Condition{Warning: Warning{PartWorn, args, said}, Blocks: true,
				Remedy: try("replace part", f.Caps.Serial, part.Part, simulatedFlag(f.Caps.Simulated))})
		} else {
			list = append(list, Condition{Warning: Warning{PartWearing, args, said + ": replace it soon"}})
		}
	}
	return list, f.unreadOr(err)
}

// simulatedFlag is what a command needs besides to be about a simulated jig.
func simulatedFlag(simulated bool) string {
	if simulated {
		return " --simulated"
	}
	return ""
}

// references are the reference units that the product demands and that are
// overdue on this jig, did not show what they must, or are due soon.
func (f Fitness) references(ctx context.Context) ([]Condition, error) {
	refs := f.Product.References
	if refs == nil {
		return nil, nil
	}
	var list []Condition
	for _, unit := range refs.All() {
		state, err := f.Store.Care.Reference(ctx, f.Caps.Serial, unit, f.Caps.Simulated)
		if err != nil {
			return nil, f.unread(err)
		}
		if why := state.Overdue(refs, f.Now); why != "" {
			list = append(list, Condition{Warning: Warning{referenceCode(state), []string{unit},
				fmt.Sprintf("reference unit %s %s on jig %s", unit, why, f.Caps.Serial)},
				Blocks: true, Remedy: try("reference unit", unit)})
		} else if left := nearlyDue(refs, state, f.Now); left != "" {
			list = append(list, Condition{Warning: Warning{ReferenceSoon, []string{unit, left},
				fmt.Sprintf("reference unit %s is due soon on jig %s: %s left", unit, f.Caps.Serial, left)}})
		}
	}
	return list, nil
}

// nearlyDue says what is left of a reference unit's interval when that is less
// than a tenth of it, empty otherwise.
func nearlyDue(refs *product.References, state care.ReferenceState, now time.Time) string {
	switch left := state.Left(refs.Every, refs.Units, now); {
	case left.Timed && left.Time < refs.Every/10:
		return left.Time.Round(time.Minute).String()
	case left.Counted && left.Units*10 < refs.Units:
		return fmt.Sprint(left.Units)
	}
	return ""
}

func referenceCode(state care.ReferenceState) Code {
	if state.Last != nil && !state.Last.Good {
		return ReferenceBad
	}
	return ReferenceDue
}

// Calibrated refuses a jig whose calibration does not hold now, and gives the
// zeros to take off its readings. A simulated jig may be used uncalibrated.
func (f Fitness) Calibrated(ctx context.Context, warn func(Warning)) ([]fixture.Resistance, error) {
	zeros, list, err := f.dues(ctx)
	if err != nil {
		return nil, err
	}
	return zeros, checkConditions(list, warn)
}

// dues are the calibrations that do not hold, or not for long.
func (f Fitness) dues(ctx context.Context) (zeros []fixture.Resistance, list []Condition, err error) {
	state, err := f.Store.Care.DueState(ctx, f.Caps.Serial, f.Caps.Simulated, f.Now)
	clock, without := f.Store.Floor.Clock(ctx)
	if err = errors.Join(err, without); err != nil {
		return nil, nil, f.unread(err)
	}
	for _, due := range []care.Due{state.Zero, state.Verify} {
		if c, stands := conditionOf(due, f.Caps, clock); stands {
			list = append(list, c)
		}
	}
	if state.Zero.Last != nil {
		zeros = state.Zero.Last.Zeros()
	}
	return zeros, list, nil
}

// conditionOf says how a jig stands with one kind of calibration, where there is anything to say.
func conditionOf(due care.Due, caps fixture.Capabilities, clock floor.Clock) (c Condition, stands bool) {
	said, kind := fmt.Sprintf("jig %s %s", caps.Serial, due.Said(clock)), string(due.Kind)
	remedy, mend := try("zero", caps.Serial), try("mend, zero", caps.Serial)
	if due.Kind == sequence.KindVerify {
		remedy, mend = try("verify", caps.Serial), try("mend, verify", caps.Serial)
	}
	code := CalibrationDue
	switch due.Status {
	case care.StatusGood:
		return c, false
	case care.StatusDueSoon:
		until := clock.Day(due.Last.Due())
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
	return Condition{Warning: Warning{code, []string{kind}, said}, Blocks: true, Remedy: remedy}, true
}
