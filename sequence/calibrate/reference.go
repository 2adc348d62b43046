package calibrate

import (
	"fmt"
	"math"
	"slices"

	"padjig/sequence"
	"padjig/sequence/product"
)

// JudgeReference judges a run over a reference unit of the product: why it does
// not show what it must, nothing when it does. A good unit must pass, and each
// key read within the product's band of baseline, the keys of the unit's first
// good check (nil for that check itself). A bad unit must be failed for its own
// reason, and for no other. An electrical press touches no key and shows neither.
func JudgeReference(p *product.Product, run sequence.Run, baseline []sequence.KeyResult) (why []sequence.Said) {
	bad, ok := p.Reference(run.Serial)
	switch {
	case !ok:
		return only(sequence.NoReference, run.Serial, p.Code)
	case run.Actuation == sequence.Electrical: // whatever it found: it says nothing of the keys
		return only(sequence.NotPressed, string(run.Outcome), because(run))
	case bad != nil:
		return judgeBad(*bad, run)
	case run.Outcome != sequence.Pass:
		return only(sequence.GoodYet, string(run.Outcome), because(run))
	}
	return judgeBand(run, baseline, p.References.Within)
}

func only(code sequence.Code, args ...string) []sequence.Said {
	return []sequence.Said{sequence.Fact(code, args...)}
}

// because is what a run found first, or else why it ended as it did, as the record has it.
func because(run sequence.Run) string {
	if len(run.Findings) > 0 {
		return run.Findings[0].String()
	}
	return run.Reason
}

func judgeBad(bad product.BadUnit, run sequence.Run) (why []sequence.Said) {
	switch run.Outcome {
	case sequence.Fail:
	case sequence.Pass:
		return only(sequence.MustFailPass, bad.What)
	default:
		return only(sequence.MustFailYet, bad.What, string(run.Outcome), because(run))
	}
	itself := func(f sequence.Finding) bool { return f.What == bad.What && concerns(f, bad) }
	if !slices.ContainsFunc(run.Findings, itself) {
		why = only(sequence.NotFound, bad.What)
	}
	for _, f := range run.Findings {
		if !itself(f) {
			why = append(why, sequence.Fact(sequence.AlsoFound, f.String()))
		}
	}
	return why
}

// concerns reports whether a finding is about the place of a known fault.
func concerns(f sequence.Finding, bad product.BadUnit) bool {
	if bad.Key != "" {
		return f.Key == bad.Key
	}
	return slices.Equal(slices.Sorted(slices.Values(f.Lines)), slices.Sorted(slices.Values(bad.Lines)))
}

// judgeBand compares a good unit's keys with those of its first good check.
func judgeBand(run sequence.Run, baseline []sequence.KeyResult, within float64) (why []sequence.Said) {
	before := map[string]sequence.KeyResult{}
	for _, k := range baseline {
		before[k.Key] = k
	}
	for _, k := range run.Keys {
		was, known := before[k.Key]
		if !known || was.Closed == nil || k.Closed == nil {
			continue
		}
		change := float64(k.Closed.Value/was.Closed.Value) - 1
		if math.Abs(change) > within {
			why = append(why, sequence.Fact(sequence.BeyondBand, k.Key, k.Closed.Value.String(), fmt.Sprintf("%+.0f", 100*change),
				was.Closed.Value.String(), fmt.Sprintf("%.0f", 100*within)))
		}
	}
	return why
}
