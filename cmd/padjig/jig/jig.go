// Package jig is padjig jig: finding, watching, simulating and looking after jigs.
package jig

import (
	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
)

// oneJig is the argument of what is asked of a jig by its name.
const oneJig = "the serial number of a jig"

// Command is padjig jig with all that is below it.
func Command() *cobra.Command {
	return command.Noun("jig", "Find, watch and simulate jigs",
		`  padjig jig list
  padjig jig talk --jig /dev/ttyACM0
  padjig jig simulate --product my-pad.yaml --link /tmp/jig0
  padjig jig conform --jig /dev/ttyACM0`,
		newList(), newTalk(), newSimulate(), newStart(), newParts(), newReferences(),
		newConform(), newCommission(), newZero(), newVerify(), newDue(), newHistory(), newSuspects())
}
