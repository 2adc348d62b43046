package main

import (
	"fmt"
	"io"

	"padjig/results/care"
)

// sayReference tells what the reference unit showed, below the verdict.
func sayReference(to io.Writer, check care.ReferenceCheck) {
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
func referenceStatus(check care.ReferenceCheck) int {
	if check.Good() {
		return statusOK
	}
	return statusFail
}
