package main

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/results"
	"padjig/sequence"
	"padjig/sequence/product"
)

// admitSerial refuses a serial number that is neither of the product's form nor
// one of its reference units.
func admitSerial(p *product.Product, serial string) error {
	if _, reference := p.Reference(serial); reference {
		return nil
	}
	if err := p.Serial.Check(serial); err != nil {
		return fail(statusWrong, err, "a number like "+p.Serial.Example())
	}
	return nil
}

// fit refuses a jig that must not be used for production now: parts worn out, or
// reference units overdue. What is only near its limit is said.
func (j *job) fit(ctx context.Context, caps fixture.Capabilities, now time.Time) error {
	worn, err := j.store.WornParts(ctx, caps.Serial)
	if err != nil {
		return fail(statusNotRecorded, err, "padjig records check"+storeArgument(j.store))
	}
	for _, part := range worn {
		said := fmt.Sprintf("%s of jig %s has been used %d times, limit %d", part.Part, caps.Serial, part.Uses, part.Block)
		if part.Worn() {
			return fail(statusNotMeasured, fmt.Errorf("%s; nothing was tested", said), fmt.Sprintf(
				"replace it, then: padjig jig wear %s --replaced %q --by NAME", caps.Serial, part.Part))
		}
		j.watcher.warn(said + ": replace it soon")
	}
	return j.referencesShown(ctx, caps, now)
}

// referencesShown refuses production units while a reference unit that the
// product demands is overdue on this jig, or did not show what it must.
func (j *job) referencesShown(ctx context.Context, caps fixture.Capabilities, now time.Time) error {
	refs := j.product.References
	if _, reference := j.product.Reference(j.serial); reference || refs == nil {
		return nil
	}
	for _, unit := range referenceUnits(refs) {
		state, err := j.store.Reference(ctx, caps.Serial, unit, caps.Simulated)
		if err != nil {
			return fail(statusNotRecorded, err, "padjig records check"+storeArgument(j.store))
		}
		if why := overdue(refs, state, now); why != "" {
			return fail(statusNotMeasured, fmt.Errorf("reference unit %s %s on jig %s; nothing was tested", unit, why, caps.Serial),
				"put "+unit+" into the jig and test it: --serial "+unit)
		}
	}
	return nil
}

func referenceUnits(refs *product.References) []string {
	units := append([]string{}, refs.Good...)
	for _, bad := range refs.Bad {
		units = append(units, bad.Serial)
	}
	return units
}

// overdue says why a reference unit must be tested now, empty if it need not.
func overdue(refs *product.References, state results.ReferenceState, now time.Time) string {
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
func (j *job) judgeReference(ctx context.Context, stored results.Stored) (*results.ReferenceCheck, error) {
	bad, reference := j.product.Reference(j.serial)
	if !reference || stored.Outcome == sequence.Aborted {
		return nil, nil
	}
	baseline, err := j.store.Baseline(ctx, stored.Jig.Serial, j.serial, stored.Simulated)
	if err != nil {
		return nil, fail(statusNotRecorded, err, "padjig records check"+storeArgument(j.store))
	}
	check := &results.ReferenceCheck{
		Run: stored.ID, Unit: j.serial, Bad: bad != nil, Why: sequence.JudgeReference(j.product, stored.Run, baseline),
	}
	if err := j.store.SaveReferenceCheck(ctx, *check); err != nil {
		return nil, fail(statusNotRecorded, err, "test the reference unit again when the records are in order")
	}
	return check, nil
}

// sayReference tells what the reference unit showed, below the verdict.
func sayReference(to io.Writer, check results.ReferenceCheck) {
	if check.Good() {
		fmt.Fprintf(to, "reference unit %s shows what it must\n", check.Unit)
		return
	}
	fmt.Fprintf(to, "reference unit %s does NOT show what it must:\n", check.Unit)
	for _, why := range check.Why {
		fmt.Fprintf(to, "  - %s\n", why)
	}
	fmt.Fprintf(to, "have the fixture engineer look at the jig; units of this product wait until the reference is good again\n")
}

// referenceStatus is the exit status of a test of a reference unit: whether it
// showed what it must, not whether it passed.
func referenceStatus(check results.ReferenceCheck) int {
	if check.Good() {
		return statusOK
	}
	return statusFail
}
