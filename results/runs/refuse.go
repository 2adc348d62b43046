package runs

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/prove"
)

// refusals names what makes a run no record.
func refusals(rev Revision, run sequence.Run) []error {
	var refused []error
	refuse := func(when bool, format string, args ...any) {
		if when {
			refused = append(refused, fmt.Errorf(format, args...))
		}
	}
	refuse(run.Serial == "", "the serial number is empty")
	refuse(run.Serial != store.Text(run.Serial), "the serial number %q is no text", run.Serial)
	refuse(rev.Hash == "", "the product revision has no hash")
	refuse(rev.Code != run.Product || rev.Label != run.Revision || rev.Hash != run.Hash,
		"the run is of %s %s (%s), the revision given is %s %s (%s)",
		run.Product, run.Revision, run.Hash, rev.Code, rev.Label, rev.Hash)
	refuse(!json.Valid(rev.Definition), "the product definition is no JSON")
	for _, word := range []string{rev.Code, rev.Title, rev.Label, rev.Hash} {
		refuse(word != store.Text(word), "%q in the product revision is no text", word)
	}
	refuse(run.Attempt < 1, "attempt %d; the first is 1", run.Attempt)
	refuse(run.Duration < 0, "duration %v", time.Duration(run.Duration))
	refuse(!known(run.Actuation, "", sequence.Mechanical, sequence.Electrical, sequence.Hand),
		"actuation %q is none", run.Actuation)
	refuse(!known(run.Outcome,
		sequence.Pass, sequence.Fail, sequence.Reseat, sequence.Incomplete, sequence.Aborted, sequence.HarnessGood,
		sequence.NothingFound),
		"outcome %q is none", run.Outcome)
	refuse(!known(run.Purpose, sequence.Production, sequence.FirstPress, sequence.ReturnTest, sequence.Exercise,
		sequence.GaugeStudy, sequence.Engineering),
		"purpose %q is none", run.Purpose)
	refuse(run.Purpose.OfCase() != (run.Case != ""),
		"purpose %q with the returns case %q", run.Purpose, run.Case)
	refuse(run.Actuation == sequence.Electrical && run.Purpose.OfCase(), "purpose %q, and no key was pressed", run.Purpose)
	refused = append(refused, unlikely(run)...)
	refuse((run.Outcome == sequence.NothingFound) && run.Purpose != sequence.Engineering, "nothing was found, and it is no engineering run")
	switch run.Outcome {
	case sequence.NothingFound:
		refused = append(refused, unsupported(run, sequence.KeyPass)...)
	case sequence.Pass:
		refuse(run.Purpose == sequence.Engineering, "it passed, and an engineering run is no pass")
		refuse(run.Actuation == sequence.Electrical, "it passed, and no key was pressed")
		refused = append(refused, unsupported(run, sequence.KeyPass)...)
		if run.Proofs != nil {
			refuse(len(run.Proofs.Missing) > 0, "it passed without what a pass has to prove: %s", prove.Listed(run.Proofs.Missing))
		}
	case sequence.HarnessGood:
		refuse(run.Actuation != sequence.Electrical, "its keys were pressed, so it is more than a good harness, or less")
		refused = append(refused, unsupported(run, sequence.KeyUntested)...)
	}
	return refused
}

// unlikely names what cannot be in the exercise of a run.
func unlikely(run sequence.Run) []error {
	var against []error
	for _, e := range run.Exercised {
		switch {
		case !slices.ContainsFunc(run.Keys, func(k sequence.KeyResult) bool { return k.Key == e.Key }):
			against = append(against, fmt.Errorf("key %s was exercised and is none of the run", e.Key))
		case (e.Least == nil) != (e.Most == nil):
			against = append(against, fmt.Errorf("key %s has a smallest or a largest resistance, not both", e.Key))
		case e.Least != nil && (e.Least.AtLeast || e.Most.AtLeast):
			against = append(against, fmt.Errorf("key %s closed with a resistance beyond the range", e.Key))
		}
	}
	return against
}

// unsupported names what speaks against a pass, or a good harness, for which
// every key must have the verdict given.
func unsupported(run sequence.Run, each sequence.Verdict) []error {
	var against []error
	is := "it passed"
	switch run.Outcome {
	case sequence.HarnessGood:
		is = "its harness is good"
	case sequence.NothingFound:
		is = "nothing was found"
	}
	if len(run.Keys) == 0 {
		against = append(against, errors.New(is+" without a key"))
	}
	for _, key := range run.Keys {
		if key.Verdict != each {
			against = append(against, fmt.Errorf("%s with key %s %s", is, key.Key, key.Verdict))
		}
	}
	for _, finding := range run.Findings {
		against = append(against, fmt.Errorf("%s with the finding %q at %s", is, finding.What, finding.Place))
	}
	for _, step := range run.Steps {
		if !step.Done {
			against = append(against, fmt.Errorf("%s without the step %q", is, step.Name))
		}
	}
	return against
}

func known[T comparable](v T, among ...T) bool { return slices.Contains(among, v) }
