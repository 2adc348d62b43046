package sequence

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"padjig/sequence/product"
)

// JudgeReference judges a run over a reference unit of the product: why it does
// not show what it must, nothing when it does. A good unit must pass, and each
// key read within the product's band of baseline, the keys of the unit's first
// good check (nil for that check itself). A bad unit must be failed for its own
// reason, and for no other. An electrical press touches no key and shows neither.
func JudgeReference(p *product.Product, run Run, baseline []KeyResult) (why []string) {
	bad, ok := p.Reference(run.Serial)
	switch {
	case !ok:
		return []string{fmt.Sprintf("%s is no reference unit of %s", run.Serial, p.Code)}
	case run.Actuation == Electrical: // whatever it found: it says nothing of the keys
		return []string{fmt.Sprintf("%s%s, and no key was pressed: test the unit with its keys pressed", run.Outcome, because(run))}
	case bad != nil:
		return judgeBad(*bad, run)
	case run.Outcome != Pass:
		return []string{fmt.Sprintf("a good unit, yet %s%s", run.Outcome, because(run))}
	}
	return judgeBand(run, baseline, p.References.Within)
}

func because(run Run) string {
	switch {
	case len(run.Findings) > 0:
		return ": " + run.Findings[0].String()
	case run.Reason != "":
		return ": " + run.Reason
	}
	return ""
}

func judgeBad(bad product.BadUnit, run Run) (why []string) {
	if run.Outcome != Fail {
		return []string{fmt.Sprintf("must fail for %q, yet %s%s", bad.What, run.Outcome, because(run))}
	}
	found := false
	for _, f := range run.Findings {
		if f.What == bad.What && concerns(f, bad) {
			found = true
			continue
		}
		why = append(why, "also found "+f.String())
	}
	if !found {
		why = append([]string{fmt.Sprintf("%q was not found where it is", bad.What)}, why...)
	}
	return why
}

// concerns reports whether a finding is about the place of a known fault.
func concerns(f Finding, bad product.BadUnit) bool {
	if bad.Key != "" {
		return f.Key == bad.Key
	}
	lines, want := slices.Clone(f.Lines), slices.Clone(bad.Lines)
	sort.Strings(lines)
	sort.Strings(want)
	return slices.Equal(lines, want)
}

// judgeBand compares a good unit's keys with those of its first good check.
func judgeBand(run Run, baseline []KeyResult, within float64) (why []string) {
	before := map[string]KeyResult{}
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
			why = append(why, fmt.Sprintf("key %s reads %v, %+.0f %% from the %v of its first check, band %.0f %%",
				k.Key, k.Closed.Value, 100*change, was.Closed.Value, 100*within))
		}
	}
	return why
}

// CheckReferences gives the mistakes in a product's reference units that only
// the list of findings can show.
func CheckReferences(p *product.Product) (mistakes []string) {
	if p.References == nil {
		return nil
	}
	for _, bad := range p.References.Bad {
		if _, known := severity[bad.What]; !known {
			mistakes = append(mistakes, fmt.Sprintf("reference unit %s must be failed for %q, which is never reported; write one of %s",
				bad.Serial, bad.What, findingList()))
		}
	}
	return mistakes
}

func findingList() string {
	var all []string
	for what := range severity {
		all = append(all, what)
	}
	sort.Slice(all, func(i, j int) bool { return severity[all[i]] < severity[all[j]] })
	return strings.Join(all, ", ")
}
