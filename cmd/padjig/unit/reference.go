package unit

// A reference unit is tested like any other, and what counts is whether the jig saw what
// is known of it.

import (
	"fmt"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/results/care"
	"padjig/sequence"
)

// sayReference tells what the reference unit showed, below the verdict.
func sayReference(to terminal.Terminal, check care.ReferenceCheck, run sequence.Run) {
	if check.Good() {
		fmt.Fprintf(to, "reference unit %s shows what it must\n", check.Unit)
		return
	}
	fmt.Fprintf(to, "reference unit %s does NOT show what it must:\n", check.Unit)
	for _, why := range check.Why {
		fmt.Fprintf(to, "  - %s\n", to.Words.Check(why, run))
	}
	fmt.Fprintf(to, "have the fixture engineer look at the jig; units of this product wait until the reference is good again\n")
}

// referenceStatus is the exit status of a test of a reference unit: whether it
// showed what it must, not whether it passed.
func referenceStatus(check care.ReferenceCheck) int {
	if check.Good() {
		return command.OK
	}
	return command.Failed
}
